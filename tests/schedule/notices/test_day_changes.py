"""What differs between two days, and the words for it. Invented names only."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.notices.day_changes import (
    DayChange,
    How,
    KnownDay,
    KnownSession,
    cover_change,
    day_changes,
    day_from_json,
    day_to_json,
)
from schedule.notices.wording import MOST_LINES, changes_message, evening_message

ONE = KnownSession("a", 510, 540, 1, "North School", "Gym", 4, "Room 4")
TWO = KnownSession("b", 600, 630, 2, "South School", "", None, "")
DAY = KnownDay((ONE, TWO))
TUESDAY, MONDAY = dt.date(2026, 9, 15), dt.date(2026, 9, 14)


def hows(was: KnownDay, now: KnownDay) -> list[How]:
    """In what they differ."""
    return [one.how for one in day_changes(was, now)]


@pytest.mark.parametrize(
    ("values", "how"),
    [
        ({"off": "North School is closed"}, How.OFF),
        ({"start": 500}, How.MOVED),
        ({"space": "Stage"}, How.ELSEWHERE),
        ({"otherwise": "15 minutes left"}, How.OTHERWISE),
    ],
)
def test_each_difference_and_back_again(values: dict[str, Any], how: How) -> None:
    """Taken back, it is told the other way."""
    other = KnownDay((replace(ONE, **values), TWO))
    assert hows(DAY, other) == [how]
    back = {How.OFF: How.ON_AGAIN, How.OTHERWISE: How.AS_PLANNED}.get(how, how)
    assert hows(other, DAY) == [back]
    assert hows(other, other) == []


def test_one_more_and_one_less() -> None:
    """New and gone; one that comes and isn't held is nothing to anybody."""
    assert hows(KnownDay((ONE,)), DAY) == [How.NEW]
    assert hows(DAY, KnownDay((ONE,))) == [How.GONE]
    assert hows(KnownDay((ONE,)), KnownDay((ONE, replace(TWO, off="closed")))) == []


def test_what_is_not_held_has_no_time() -> None:
    """Moved while it is off, it is told when it is held again."""
    off = KnownDay((replace(ONE, off="closed"), TWO))
    moved = KnownDay((replace(ONE, off="closed", start=500), TWO))
    assert hows(off, moved) == []
    assert hows(off, KnownDay((replace(ONE, start=500), TWO))) == [How.ON_AGAIN, How.MOVED]


SESSIONS = st.builds(
    KnownSession,
    uid=st.sampled_from("abcdef"),
    start=st.integers(400, 800),
    end=st.integers(801, 900),
    building=st.integers(1, 3),
    school=st.just("North School"),
    space=st.sampled_from(["", "Gym"]),
    class_id=st.none() | st.integers(1, 3),
    class_name=st.sampled_from(["", "Room 4"]),
    off=st.sampled_from(["", "closed"]),
    otherwise=st.sampled_from(["", "late"]),
)
DAYS = st.builds(KnownDay, st.lists(SESSIONS, max_size=6, unique_by=lambda one: one.uid).map(tuple), st.just(""))


@given(DAYS, DAYS)
def test_as_kept_it_is_the_same_and_nothing_held_is_forgotten(was: KnownDay, now: KnownDay) -> None:
    """Without a change both hold the same sessions at the same times and places."""
    assert day_from_json(day_to_json(was)) == was
    assert day_changes(was, was) == ()

    def held(day: KnownDay) -> set[tuple[object, ...]]:
        return {
            (one.uid, one.start, one.end, one.building, one.space, one.otherwise)
            for one in day.sessions
            if not one.off
        }

    assert (day_changes(was, now) == ()) == (held(was) == held(now))


def test_an_office_knows_its_school_and_a_class_its_sessions() -> None:
    """And nothing else."""
    assert DAY.of_schools([2]).sessions == (TWO,)
    assert DAY.of_classes([4]).sessions == (ONE,)
    assert DAY.of_classes([]).sessions == ()


def test_a_message_for_the_teacher_and_one_for_the_office() -> None:
    """The office's has no class and not its own school's name; none has a student's."""
    now = KnownDay((replace(ONE, off="North School is closed"), replace(TWO, start=615)))
    told = changes_message(DAY, now, date=TUESDAY, today=MONDAY, teacher="Ada Vey")
    assert told is not None
    assert told.subject == "Tomorrow, Tuesday, September 15: 2 changes (Ada Vey)"
    assert told.lines == (
        "8:30 Room 4, North School, Gym: not held, North School is closed.",
        "10:15 session, South School: moved, it was 10:00 to 10:30.",
    )
    office = changes_message(
        DAY.of_schools([1]),
        now.of_schools([1]),
        date=TUESDAY,
        today=TUESDAY,
        teacher="Ada Vey",
        school="North School",
    )
    assert office is not None
    assert (office.subject, office.lines) == (
        "Today, Tuesday, September 15: 1 change (North School)",
        ("8:30 to 9:00, Gym: not held, North School is closed.",),
    )
    assert changes_message(DAY, DAY, date=TUESDAY, today=MONDAY, teacher="Ada Vey") is None


def test_a_whole_day_is_one_line() -> None:
    """Planned, off for one reason, and held after all."""
    off = KnownDay(tuple(replace(one, off="the teacher is away") for one in DAY.sessions))

    def lines(was: KnownDay, now: KnownDay) -> tuple[str, ...]:
        told = changes_message(was, now, date=TUESDAY, today=MONDAY, teacher="Ada Vey")
        return told.lines if told is not None else ()

    assert lines(KnownDay(), DAY) == ("Planned: 2 sessions, 8:30 to 10:30.",)
    assert lines(DAY, off) == ("None of the 2 sessions is held: the teacher is away.",)
    assert lines(off, DAY) == ("Held after all: 2 sessions.",)


def test_who_stands_in_and_no_longer() -> None:
    """By name, a grown-up's."""
    covered = replace(DAY, cover="Bo Lint")
    assert cover_change(DAY, covered) == ("", "Bo Lint")
    told = changes_message(DAY, covered, date=TUESDAY, today=MONDAY, teacher="Ada Vey")
    assert told is not None
    assert told.lines == ("Bo Lint stands in for Ada Vey.",)
    back = changes_message(covered, DAY, date=TUESDAY, today=MONDAY, teacher="Ada Vey")
    assert back is not None
    assert back.lines == ("Bo Lint no longer stands in for Ada Vey.",)


def test_a_long_message_ends_with_how_many_more() -> None:
    """Nothing is left out silently."""
    many = KnownDay(tuple(replace(ONE, uid=str(n), start=480 + n, end=500 + n) for n in range(20)))
    moved = KnownDay(tuple(replace(one, space="Stage") for one in many.sessions))
    told = changes_message(many, moved, date=TUESDAY, today=MONDAY, teacher="Ada Vey")
    assert told is not None
    assert len(told.lines) == MOST_LINES
    assert told.lines[-1] == "And 9 more: see the day sheet."


def test_the_evening_tells_what_is_not_usual() -> None:
    """An ordinary day has no message."""
    assert evening_message(DAY, [], date=TUESDAY, teacher="Ada Vey") is None
    odd = evening_message(KnownDay((replace(ONE, off="closed"), TWO)), [TWO], date=TUESDAY, teacher="Ada Vey")
    assert odd is not None
    assert odd.lines == (
        "8:30 Room 4, North School, Gym: not held, closed.",
        "10:00 session, South School: not the usual time.",
    )


def test_changes_come_in_the_order_of_the_day() -> None:
    """Whatever order they were found in."""
    was, now = KnownDay((TWO, ONE)), KnownDay((replace(TWO, space="Hall"), replace(ONE, space="Hall")))
    assert [one.now.uid for one in day_changes(was, now)] == ["a", "b"]
    assert isinstance(day_changes(was, now)[0], DayChange)
