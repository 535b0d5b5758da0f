"""Which names are read for whom, and that reading fewer calls nobody otherwise. Our own rules, no source."""

import dataclasses

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.plans.models import Student
from caseload.plans.names import student_names
from caseload.plans.naming import NameCard, StudentNames, marked
from caseload.plans.shown import shown_collected
from tests.conftest import Cast, make_student

# Who shares a name with somebody, also across first and last names and with other capital letters.
CALLED = [
    ("Ana", "Ruiz", "3"),
    ("ana", "RUIZ", "5"),
    ("Ana", "Ruiz", "3"),
    ("Ana Lo", "Ruiz", "3"),
    ("Ana", "Lo Ruiz", "3"),
    ("Bo", "Lind", "4"),
]


@pytest.fixture
def named(cast: Cast) -> list[Student]:
    """Students of whom some are called the same."""
    found = []
    for number, (first, last, grade) in enumerate(CALLED):
        student = make_student(cast.district, cast.north, cast.teacher, f"N{number}")
        student.first_name, student.last_name, student.grade = first, last, grade
        student.save()
        found.append(student)
    return found


def _told_by_all(viewer_sees: list[Student]) -> StudentNames:
    cards = [
        NameCard(one.pk, one.code, one.first_name, one.last_name, f"grade {one.grade}", one.building.name)
        for one in viewer_sees
    ]
    return StudentNames.of(cards)


@pytest.mark.parametrize("number", range(len(CALLED)))
def test_one_of_a_district_is_called_as_if_everybody_had_been_read(
    cast: Cast, named: list[Student], number: int
) -> None:
    """By full name, last name first and in sentences, whoever else is shown."""
    everybody = _told_by_all(list(Student.objects.visible_to(cast.coordinator)))
    one = named[number]
    for among in ([one.pk], [named[0].pk], None):
        names = student_names(cast.coordinator, among)
        assert names.full[one.pk] == everybody.full[one.pk]
        assert names.listed[one.pk] == everybody.listed[one.pk]
        assert student_names(cast.coordinator, among).told(marked(one.code)) == everybody.full[one.pk]
    assert dict(student_names(cast.coordinator).full) == dict(everybody.full)
    assert student_names(cast.coordinator).initials[one.pk] == everybody.initials[one.pk]


def test_a_coordinators_page_reads_those_whom_it_shows(cast: Cast, named: list[Student]) -> None:
    """With whoever has the same name, and not the district."""
    names = student_names(cast.coordinator, [named[5].pk])
    with CaptureQueriesContext(connection) as asked:
        assert names.full[named[5].pk] == "Bo Lind"
    assert len(asked) == 1
    with connection.cursor() as cursor:
        cursor.execute(asked.captured_queries[0]["sql"])
        assert [row[1] for row in cursor.fetchall()] == ["N5"]


def test_nobody_is_called_by_name_whom_the_viewer_does_not_see(cast: Cast, named: list[Student]) -> None:
    """A teacher of others, a coordinator of another district, an office: the code, whoever is shown."""
    for viewer in (cast.mate, cast.stranger, cast.office, cast.substitute):
        names = student_names(viewer, [one.pk for one in named])
        assert not [one for one in named if one.pk in names.full or one.code in names.by_code]
        assert names.told(marked("N5")) == "N5"


def test_who_is_called_by_name_is_noted_and_nobody_else(cast: Cast, named: list[Student]) -> None:
    """The access log takes from it who was shown."""
    with shown_collected() as shown:
        names = student_names(cast.coordinator)
        names.full.get(named[0].pk)
        names.told(marked("N5"))
        names.full.get(0)
    assert shown == {named[0].pk, named[5].pk}


def test_a_phone_is_told_initials_of_everybody(cast: Cast, named: list[Student]) -> None:
    """Also a coordinator's who teaches: two of the same initials are told apart."""
    cast.coordinator.reads_initials = True
    names = student_names(cast.coordinator, [named[5].pk])
    assert names.full[named[5].pk] == "B.L."
    assert names.told(marked("N0")) == "A.R. N0"
    assert not [words for words in names.full.values() if "Ruiz" in words]


def test_only_words_that_are_asked_for_are_made() -> None:
    """Four of five ways stay unmade on a page that shows one."""
    made: list[str] = []

    class Card(NameCard):
        @property
        def full(self) -> str:
            made.append(self.code)
            return super().full

    names = StudentNames.of([Card(1, "S01", "Ana", "Ruiz", "grade 3", "Elm")])
    assert names.initials[1] == "A.R."
    assert not made
    assert names.full[1] == "Ana Ruiz"
    assert made == ["S01"]
    assert dataclasses.replace(names).full == {1: "Ana Ruiz"}
