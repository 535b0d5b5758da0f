"""Reads of how students are called for somebody who looks; `caseload.plans.naming` decides."""

from collections.abc import Iterable

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.grades import grade_words
from caseload.plans.models import Student
from caseload.plans.naming import NameCard, StudentNames, names_in, words_of
from caseload.plans.shown import ToldWords

NAMED = (
    "“{name}” is the name of a student. Phones’ calendars and messages show these words as they are "  # noqa: RUF001 -- as pages write it
    "written: say it without the name, unless everyone who reads them may know."
)

NAME_SAID = "A student’s name. Nothing is saved yet."  # noqa: RUF001 -- as above
NAME_BUTTON = "Save it all the same"


def student_names(viewer: Person, among: Iterable[int] | None = None) -> StudentNames:
    """Names of every student whom the viewer may see (one query), told apart from all of those.

    Short names and initials only have to differ ``among`` the students shown together, where given. A viewer whose
    page will lie readable on a phone (``reads_initials``) is told initials everywhere.
    """
    rows = Student.objects.visible_to(viewer).order_by("pk")
    values = rows.values_list("pk", "code", "first_name", "last_name", "grade", "building__name")
    cards = [
        NameCard(pk, code, first, last, grade_words(grade), school)
        for pk, code, first, last, grade, school in values.distinct()
    ]
    names = StudentNames.by_initials(cards) if viewer.reads_initials else StudentNames.of(cards, among)
    return _noting(names, {one.code: one.student for one in cards})


def _noting(names: StudentNames, ids: dict[str, int]) -> StudentNames:
    """The same names; who is called by one is noted (caseload.plans.shown)."""
    own = {pk: pk for pk in ids.values()}
    full, listed, short = ToldWords(names.full, own), ToldWords(names.listed, own), ToldWords(names.short, own)
    tight, initials = ToldWords(names.tight, own), ToldWords(names.initials, own)
    return StudentNames(full, listed, short, tight, initials, ToldWords(names.by_code, ids))


def students_seen(viewer: Person, among: Iterable[int]) -> frozenset[int]:
    """Which of these students the viewer may see today, by id; one query."""
    wanted = frozenset(among)
    key = ("students seen", viewer.pk, today_of(viewer), wanted)
    return shared(key, lambda: _students_seen(viewer, wanted), at_once=True)


def _students_seen(viewer: Person, among: frozenset[int]) -> frozenset[int]:
    rows = Student.objects.visible_to(viewer).filter(pk__in=among)
    return frozenset(rows.order_by().values_list("pk", flat=True))


def names_written(viewer: Person, texts: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Which names of students whom the viewer sees each text holds, by text; at most one query."""
    wanted = [text for text in texts if text]
    names = names_seen(viewer) if wanted else frozenset()
    return {text: names_in(text, names) for text in wanted}


def names_seen(viewer: Person) -> frozenset[str]:
    """First and last names of the students whom the viewer sees; one query."""
    rows = Student.objects.visible_to(viewer).values_list("first_name", "last_name")
    return frozenset(word for first, last in rows for word in words_of(f"{first} {last}"))


def name_warnings(viewer: Person, text: str, seen: frozenset[str] | None = None) -> list[str]:
    """What to say of a text that phones' calendars show as it is written: a student's name in it.

    `seen`: the names to look for, where they were read already (`names_seen`).
    """
    found = names_written(viewer, [text]).get(text, ()) if seen is None else names_in(text, seen)
    return [NAMED.format(name=name) for name in found]
