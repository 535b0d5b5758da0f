"""Whoever takes the students is away in turn. Common practice, no source."""

import datetime as dt

import pytest

from accounts.models import AuditEntry, Person
from caseload.plans.models import ServiceLine, Student
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import students_still
from schedule.leaving.services import (
    leave_arrange,
    leave_foreseen,
    leave_last_day_change,
    leave_last_day_foreseen,
    leave_take_back,
)
from tests.conftest import Cast
from tests.schedule.assigning.ground import DAY, make_crossed
from tests.schedule.assigning.test_taking_over import WITH_TODAY, on_caseloads, serving

ONE_DAY, WEEK = dt.timedelta(days=1), dt.timedelta(weeks=1)
LAST = DAY + 12 * WEEK - ONE_DAY
THIRD = dict.fromkeys(WITH_TODAY, "third")
SICK, WELL = DAY + 3 * WEEK, DAY + 5 * WEEK - ONE_DAY
"""The mate is away for two weeks within the teacher's twelve."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The teacher serves three students and the mate two."""
    return make_crossed(cast)


@pytest.fixture
def third(ground: Cast) -> Person:
    """A third teacher, with nobody yet."""
    return Person.objects.create_user(
        "third", district=ground.district, role=Person.Role.TEACHER, first_name="Third", last_name="Vey"
    )


def away(ground: Cast, teacher: Person, receiver: Person, first: dt.date, last: dt.date) -> TeacherLeave:
    """One of the leaves."""
    return leave_arrange(
        actor=ground.coordinator, teacher=teacher, receiver=receiver, first_day=first, last_day=last
    )


def both(ground: Cast, third: Person) -> tuple[TeacherLeave, TeacherLeave]:
    """The teacher's students are with the mate, and two weeks of that everybody is with the third."""
    return away(ground, ground.teacher, ground.mate, DAY, LAST), away(ground, ground.mate, third, SICK, WELL)


def holds(days: dict[dt.date, dict[str, str]]) -> None:
    """Who serves whom on each of these days, and on whose caseload they are."""
    people = dict(Person.objects.values_list("username", "pk"))
    for day, wanted in days.items():
        assert serving(day) == wanted, day
        assert on_caseloads(day) == {code: people[who] for code, who in wanted.items()}, day


WITH_MATE = dict.fromkeys(WITH_TODAY, "mate")
MATES = {code: "third" if who == "mate" else who for code, who in WITH_TODAY.items()}
"""The mate is away and the teacher isn't."""
PLANNED = {
    SICK - ONE_DAY: WITH_MATE,
    SICK: THIRD,
    WELL: THIRD,
    WELL + ONE_DAY: WITH_MATE,
    LAST + ONE_DAY: WITH_TODAY,
}


@pytest.mark.parametrize("first_of_both", [True, False])
def test_two_leaves_are_taken_back_in_any_order(ground: Cast, third: Person, first_of_both: bool) -> None:
    one, other = both(ground, third)
    holds(PLANNED)
    if first_of_both:
        told = leave_take_back(actor=ground.coordinator, row=one)
        assert told == [f"“{other}” is arranged anew without 3 students who aren't with Mate Vey then."]
        other.refresh_from_db()
        assert sorted(each.code for each in other.students.all()) == ["N2", "N3"]
        holds({DAY: WITH_TODAY, SICK: MATES, WELL: MATES, WELL + ONE_DAY: WITH_TODAY, LAST: WITH_TODAY})
        leave_take_back(actor=ground.coordinator, row=other)
    else:
        assert leave_take_back(actor=ground.coordinator, row=other) == []
        holds({SICK: WITH_MATE, LAST + ONE_DAY: WITH_TODAY})
        leave_take_back(actor=ground.coordinator, row=one)
    holds(dict.fromkeys(PLANNED, WITH_TODAY))
    assert not TeacherLeave.objects.exists()
    assert ServiceLine.objects.count() == len(WITH_TODAY)


def test_who_comes_back_sooner_while_the_colleague_is_away(ground: Cast, third: Person) -> None:
    """In the middle of the mate's two weeks: what the third has of the teacher's goes back to the teacher."""
    one, other = both(ground, third)
    sooner = SICK + WEEK - ONE_DAY
    entries = AuditEntry.objects.count()
    told = leave_last_day_foreseen(actor=ground.coordinator, row=one, last_day=sooner)
    assert told == [
        "From November 2, 2026 they are with Teacher Vey again.",
        f"“{other}” is arranged anew: the same students are with Third Vey then.",
    ]
    assert AuditEntry.objects.count() == entries
    holds(PLANNED)
    leave_last_day_change(actor=ground.coordinator, row=one, last_day=sooner)
    holds({SICK - ONE_DAY: WITH_MATE, SICK: THIRD, sooner: THIRD, sooner + ONE_DAY: MATES, WELL: MATES})
    holds({WELL + ONE_DAY: WITH_TODAY, LAST + ONE_DAY: WITH_TODAY})
    leave_last_day_change(actor=ground.coordinator, row=one, last_day=LAST)
    holds(PLANNED)


def test_who_comes_back_before_the_colleague_is_away(ground: Cast, third: Person) -> None:
    one, _other = both(ground, third)
    leave_last_day_change(actor=ground.coordinator, row=one, last_day=SICK - ONE_DAY)
    holds({DAY: WITH_MATE, SICK - ONE_DAY: WITH_MATE, SICK: MATES, WELL: MATES, WELL + ONE_DAY: WITH_TODAY})


def test_a_leave_of_nobody_is_taken_back_as_well(ground: Cast, third: Person) -> None:
    """The mate's two weeks pass on a student of the teacher's alone."""
    one = away(ground, ground.teacher, ground.mate, DAY, LAST)
    other = leave_arrange(
        actor=ground.coordinator,
        teacher=ground.mate,
        receiver=third,
        first_day=SICK,
        last_day=WELL,
        students=list(Student.objects.filter(code="S1")),
    )
    told = leave_take_back(actor=ground.coordinator, row=one)
    assert told == [f"“{other}” is taken back as well: nobody of it is with Mate Vey then."]
    assert not TeacherLeave.objects.exists()
    holds(dict.fromkeys(PLANNED, WITH_TODAY))


def test_a_leave_of_other_students_is_left_alone(ground: Cast, third: Person) -> None:
    one = away(ground, ground.teacher, ground.mate, DAY, LAST)
    own = list(Student.objects.filter(code__in=["N2", "N3"]))
    values = {"teacher": ground.mate, "receiver": third, "first_day": SICK, "last_day": WELL}
    other = leave_arrange(actor=ground.coordinator, students=own, **values)  # type: ignore[arg-type]
    assert leave_take_back(actor=ground.coordinator, row=one) == []
    assert TeacherLeave.objects.get().handed == other.handed


def test_a_colleague_with_nothing_left_on_the_day_of_coming_back(ground: Cast, third: Person) -> None:
    """The mate's own students are the third's for good; those of the teacher are with the teacher again by then."""
    own = list(Student.objects.filter(code__in=["N2", "N3"]))
    values = {"teacher": ground.mate, "receiver": third, "first_day": DAY}
    leave_arrange(actor=ground.coordinator, students=own, **values)  # type: ignore[arg-type]
    away(ground, ground.teacher, ground.mate, DAY, WELL)
    asked = {"teacher": ground.mate, "receiver": third, "first_day": SICK, "last_day": LAST}
    told = leave_foreseen(actor=ground.coordinator, **asked)  # type: ignore[arg-type]
    assert told[1] == "On December 28, 2026 there is nothing to give back: others have them from then on."
    row = away(ground, ground.mate, third, SICK, LAST)
    assert row.returned is None
    with_third = {**WITH_TODAY, "N2": "third", "N3": "third"}
    holds({SICK: THIRD, WELL: THIRD, WELL + ONE_DAY: with_third, LAST + ONE_DAY: with_third})
    # Back sooner, there is something to give back.
    leave_last_day_change(actor=ground.coordinator, row=row, last_day=SICK + WEEK)
    back = {**WITH_MATE, "N2": "third", "N3": "third"}
    holds({SICK + WEEK: THIRD, SICK + WEEK + ONE_DAY: back, WELL + ONE_DAY: with_third})
    leave_take_back(actor=ground.coordinator, row=row)
    holds({SICK: back, WELL + ONE_DAY: with_third})


def test_a_colleague_who_is_away_meanwhile_is_said(ground: Cast, third: Person) -> None:
    away(ground, ground.mate, third, SICK, WELL)
    asked = {"teacher": ground.teacher, "receiver": ground.mate, "first_day": DAY, "last_day": LAST}
    told = leave_foreseen(actor=ground.coordinator, **asked)  # type: ignore[arg-type]
    assert told[2] == (
        "Mate Vey is away, too (October 26, 2026 to November 8, 2026), and 3 of these students have nobody then: "
        "say who takes them."
    )


def test_a_leave_whose_students_are_erased_hides_nobody(ground: Cast, third: Person) -> None:
    """Erasing a student takes them out of the leaves that they were in."""
    some = list(Student.objects.filter(code="S1"))
    values = {"teacher": ground.teacher, "receiver": third, "first_day": DAY, "last_day": LAST}
    row = leave_arrange(actor=ground.coordinator, students=some, **values)  # type: ignore[arg-type]
    row.students.clear()
    still = students_still(ground.coordinator, ground.teacher, DAY)
    assert {one.code for one in still} >= {"N1", "S2"}
