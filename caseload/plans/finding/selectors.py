"""Reads students by what somebody knows of them."""

from dataclasses import dataclass

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Concat

from accounts.models import Person
from caseload.plans.models import Student
from caseload.plans.names import student_names

MOST = 20
"""Students who are offered at once."""
LONGEST = 100
"""Characters of a name that are looked for."""


@dataclass(frozen=True, slots=True)
class StudentsOffered:
    """Students to choose from, by id and name; `more`: others have the words, too; `chosen` is one's id or None."""

    rows: tuple[tuple[int, str], ...] = ()
    more: bool = False
    chosen: int | None = None


def words_read(text: str) -> str:
    """What was written, at most `LONGEST` characters, without the character that PostgreSQL refuses."""
    return " ".join(text.replace("\0", " ").split())[:LONGEST]


def students_matching(rows: QuerySet[Student], words: str) -> QuerySet[Student]:
    """Those with every word in a name or in the code, by name.

    SQLite tells É and é apart, so both are asked for.
    """
    for word in words.split():
        found = Q()
        for spelled in {word, word.lower(), word.capitalize()}:
            found |= Q(first_name__icontains=spelled) | Q(last_name__icontains=spelled) | Q(code__icontains=spelled)
        rows = rows.filter(found)
    return rows.order_by("last_name", "first_name", "code")


def student_meant(rows: QuerySet[Student], words: str) -> Student | None:
    """The one whose code or whole name the words are; None where nobody's or several students' are."""
    whole = Concat("first_name", Value(" "), "last_name")
    said = " ".join(words.split())
    found = rows.annotate(whole_name=whole).filter(Q(code__iexact=said) | Q(whole_name__iexact=said))
    some = found.order_by().values_list("pk", flat=True).distinct()[:2]
    return rows.get(pk=some[0]) if len(some) == 1 else None


def students_offered(viewer: Person, rows: QuerySet[Student], words: str) -> StudentsOffered:
    """At most `MOST` of those with these words, as the viewer may know them; a single one is chosen already."""
    if not words.strip():
        return StudentsOffered()
    found = list(students_matching(rows, words).values_list("pk", "code")[: MOST + 1])
    shown = found[:MOST]
    return StudentsOffered(
        rows=_named(viewer, shown), more=len(found) > MOST, chosen=shown[0][0] if len(shown) == 1 else None
    )


def student_offered(viewer: Person, student: Student) -> StudentsOffered:
    """The one who is chosen."""
    return StudentsOffered(rows=_named(viewer, [(student.pk, student.code)]), chosen=student.pk)


def _named(viewer: Person, students: list[tuple[int, str]]) -> tuple[tuple[int, str], ...]:
    names = student_names(viewer, among={pk for pk, _ in students}).listed
    return tuple((pk, names.get(pk, code)) for pk, code in students)
