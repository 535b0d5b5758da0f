"""Reads of how students are called for somebody who looks; `caseload.plans.naming` decides."""

from collections.abc import Iterable

from accounts.models import Person
from caseload.plans.grades import grade_words
from caseload.plans.models import Student
from caseload.plans.naming import NameCard, StudentNames


def student_names(viewer: Person, among: Iterable[int] | None = None) -> StudentNames:
    """Names of every student whom the viewer may see (one query), told apart from all of those.

    Short names and initials only have to differ ``among`` the students shown together, where given.
    """
    rows = Student.objects.visible_to(viewer).order_by("pk")
    values = rows.values_list("pk", "code", "first_name", "last_name", "grade", "building__name")
    cards = [
        NameCard(pk, code, first, last, grade_words(grade), school)
        for pk, code, first, last, grade, school in values.distinct()
    ]
    return StudentNames.of(cards, among)
