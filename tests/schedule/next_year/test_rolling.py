"""What becomes of a student by the rule and beside it. Grades' order: common practice, no source."""

import datetime as dt

import pytest

from schedule.next_year.rolling import (
    Coming,
    ComingClass,
    EveStay,
    Lacks,
    School,
    StudentSaid,
    days_later,
    grade_after,
    highest_of,
    rolled,
)

ELEMENTARY, MIDDLE, HIGH = 1, 2, 3
SCHOOLS = {
    ELEMENTARY: School("5", MIDDLE),
    MIDDLE: School("8", None),
    HIGH: School("12+"),
}
ROOMS = {
    10: ComingClass(ELEMENTARY, grades=frozenset({"3", "4"})),
    11: ComingClass(ELEMENTARY, goes_on=False),
    20: ComingClass(MIDDLE),
}


def one(grade: str, building: int = ELEMENTARY, room: int | None = None, **wish: object) -> Coming:
    """A student by grade, rolled."""
    return rolled(EveStay(building, grade, room), StudentSaid(**wish), SCHOOLS, ROOMS)  # type: ignore[arg-type]


def test_a_grade_up_in_the_same_building_and_class() -> None:
    assert one("3", room=10) == Coming("4", ELEMENTARY, 10)


def test_the_highest_grade_goes_to_the_next_building_without_its_class() -> None:
    assert one("5") == Coming("6", MIDDLE)
    assert one("5", room=10) == Coming("6", MIDDLE, lacks=(Lacks.CLASS,))
    assert one("5", room=10, class_id=20) == Coming("6", MIDDLE, 20)


def test_without_a_next_building_it_is_missing_and_nobody_is_sent_anywhere() -> None:
    assert one("8", MIDDLE) == Coming("9", None, lacks=(Lacks.BUILDING,))
    assert one("8", MIDDLE, building_id=HIGH, choice="goes_on") == Coming("9", HIGH)


def test_a_class_that_does_not_go_on_or_not_for_the_grade_is_missing() -> None:
    assert one("3", room=11).lacks == (Lacks.CLASS,)
    assert one("4", room=10) == Coming("5", ELEMENTARY, lacks=(Lacks.CLASS,))


@pytest.mark.parametrize("grade", ["12", "12+"])
def test_nobody_leaves_by_a_rule(grade: str) -> None:
    assert one(grade, HIGH).lacks == (Lacks.LEAVES,)
    assert one(grade, HIGH, choice="leaves").leaves
    assert one(grade, HIGH, choice="goes_on") == Coming("12+", HIGH)


def test_the_same_grade_again_stays_where_it_is() -> None:
    assert one("5", choice="again") == Coming("5", ELEMENTARY)


def test_nobody_stays_in_a_building_that_closes() -> None:
    closing = {ELEMENTARY: School("5", MIDDLE, closes=True)}
    assert rolled(EveStay(ELEMENTARY, "2"), StudentSaid(), closing, {}) == Coming("3", MIDDLE)
    assert rolled(EveStay(ELEMENTARY, "2"), StudentSaid("again"), closing, {}) == Coming("2", MIDDLE)


def test_preschool_to_kindergarten_to_first_grade() -> None:
    assert [grade_after(grade) for grade in ("PK", "K", "9", "12", "12+")] == ["K", "1", "10", "12+", "12+"]


def test_a_building_teaches_its_levels_grades_or_higher_ones_that_are_there() -> None:
    assert highest_of("elementary", ["2"]) == "5"
    assert highest_of("elementary", ["6"]) == "6"
    assert highest_of("mixed", ["6"]) == ""


@pytest.mark.parametrize("day", [dt.date(2026, 9, 8), dt.date(2027, 2, 15), dt.date(2028, 2, 29)])
def test_a_year_later_it_is_the_same_weekday(day: dt.date) -> None:
    assert days_later(day).weekday() == day.weekday()
    assert (days_later(day) - day).days == 364
