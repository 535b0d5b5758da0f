"""What a planned day comes to, from a tiny day: common practice of the trade, no source.

That nobody drives to a closed school, and the base alone, is what mileage counts (IRS Publication 463, figure B:
between two places of work).
"""

from dataclasses import replace

import pytest

from schedule.calendar.closed_days import Closing
from schedule.weeks.day_shape import Straight, day_off_words, shape_day
from schedule.weeks.day_truth import (
    DRIVE,
    MEETING,
    SESSION,
    Off,
    Part,
    Standing,
    Why,
    off_words,
)

BASE, NORTH, SOUTH, WEST = 1, 2, 3, 4
NAMES = {NORTH: "North School", SOUTH: "South School", WEST: "West School"}
PARTS = (
    Part(DRIVE, 480, 500, NORTH, BASE),
    Part(SESSION, 500, 530, NORTH, key="a"),
    Part(DRIVE, 530, 560, SOUTH, NORTH),
    Part(SESSION, 560, 600, SOUTH, key="b"),
    Part("lunch", 600, 630, SOUTH),
    Part(DRIVE, 630, 660, WEST, SOUTH),
    Part(SESSION, 660, 700, WEST, key="c"),
    Part(DRIVE, 700, 730, BASE, WEST),
)


def standing(*untaught: str, **closings: Closing) -> Standing:
    """A date by the names of its schools."""
    places = {"north": NORTH, "south": SOUTH, "west": WEST, "base": BASE}
    found = {places[name]: closing for name, closing in closings.items()}
    return Standing(found, frozenset(untaught), frozenset({BASE}))


def test_a_usual_day() -> None:
    """As planned."""
    shape = shape_day(PARTS, standing())
    assert (shape.off, shape.left_out) == ({}, {})
    assert not shape.is_off
    assert shape.stops == (BASE, NORTH, SOUTH, WEST, BASE)
    assert shape.straight == ()


def test_one_school_closed() -> None:
    """Its session and both drives are off, the straight one is due when the second was; lunch is elsewhere."""
    shape = shape_day(PARTS, standing(south=Closing.CLOSED))
    closed = Off(Why.CLOSED, SOUTH)
    assert shape.off == {2: closed, 3: closed, 5: closed}
    assert shape.elsewhere == {4: closed}
    assert shape.stops == (BASE, NORTH, WEST, BASE)
    assert shape.straight == (Straight(NORTH, WEST, 530, 660),)


def test_a_teacher_who_left_drives_nowhere() -> None:
    """Not even to a meeting: whoever has left is expected nowhere."""
    shape = shape_day(
        (*PARTS, Part(MEETING, 740, 800, BASE)), Standing({}, bases=frozenset({BASE}), teacher_left=True)
    )
    assert shape.is_off
    assert (shape.stops, shape.straight) == ((), ())
    assert {one.why for one in shape.off.values()} == {Why.TEACHER_LEFT}
    assert len(PARTS) in shape.off, "the meeting is off with everything else"
    assert shape.elsewhere == {}
    assert day_off_words(shape, NAMES) == "No session takes place: the teacher has left."


def test_a_school_whose_students_left_is_driven_past() -> None:
    """Only that session is off; one of two that somebody still attends keeps the school in the day."""
    shape = shape_day(PARTS, Standing({}, bases=frozenset({BASE}), left=frozenset({"b"})))
    left = Off(Why.STUDENTS_LEFT, SOUTH)
    assert shape.off == {2: left, 3: left, 5: left}
    assert shape.stops == (BASE, NORTH, WEST, BASE)
    assert off_words(left, NAMES) == "its students have left South School"
    more = (*PARTS[:4], Part(SESSION, 600, 630, SOUTH, key="d"), *PARTS[5:])
    shape = shape_day(more, Standing({}, bases=frozenset({BASE}), left=frozenset({"b"})))
    assert (shape.off, shape.stops) == ({3: left}, (BASE, NORTH, SOUTH, WEST, BASE))


@pytest.mark.parametrize("closing", list(Closing))
def test_every_school_closed(closing: Closing) -> None:
    """Nothing takes place and nobody drives, not even to the base."""
    shape = shape_day(PARTS, standing(north=closing, south=closing, west=closing))
    assert shape.is_off
    assert shape.stops == ()
    assert shape.straight == ()
    assert shape.off[4] == Off(Why(closing), SOUTH)


def test_the_first_school_closed() -> None:
    """From the base straight to the second."""
    shape = shape_day(PARTS, standing(north=Closing.CLOSED))
    assert shape.straight == (Straight(BASE, SOUTH, 480, 560),)


def test_who_meets_comes_all_the_same() -> None:
    """On a day for staff only; not to a closed school."""
    parts = (*PARTS, Part(MEETING, 730, 760, SOUTH))
    assert shape_day(parts, standing(south=Closing.NO_STUDENTS)).stops == (BASE, NORTH, SOUTH, WEST, BASE, SOUTH)
    closed = shape_day(parts, standing(south=Closing.CLOSED))
    assert closed.stops == (BASE, NORTH, WEST, BASE)
    assert 8 in closed.elsewhere


def test_the_log_counts_where_nobody_was_taught() -> None:
    """Only if it says so of every session there; the session itself stays, with its log."""
    shape = shape_day(PARTS, standing("b"))
    assert set(shape.off) == {2, 5}
    assert shape.left_out == {SOUTH: Off(Why.UNTAUGHT, SOUTH)}
    twice = (*PARTS[:5], Part(SESSION, 600, 630, SOUTH, key="d"), *PARTS[5:])
    taught = shape_day(twice, standing("b"))
    assert (taught.off, taught.left_out) == ({}, {})


def test_the_order_of_the_parts_does_not_matter() -> None:
    """Keys are places in the sequence as given."""
    there = shape_day(PARTS, standing(south=Closing.CLOSED))
    back = shape_day(PARTS[::-1], standing(south=Closing.CLOSED))
    assert (back.stops, back.straight) == (there.stops, there.straight)
    assert {len(PARTS) - 1 - at for at in back.off} == set(there.off)


def test_it_is_said_in_words() -> None:
    """Which school and why; a day with many schools names none."""
    assert off_words(Off(Why.NO_STUDENTS, NORTH), NAMES) == "North School has no students"
    one = shape_day(PARTS[1:2], standing(north=Closing.CLOSED))
    assert day_off_words(one, NAMES) == "No session takes place: North School is closed."
    every = shape_day(PARTS, standing(north=Closing.CLOSED, south=Closing.CLOSED, west=Closing.CLOSED))
    assert day_off_words(every, NAMES) == "No session takes place: the schools of this day have no students."
    assert day_off_words(shape_day(PARTS, standing()), NAMES) == ""
    assert day_off_words(shape_day((), standing()), NAMES) == ""


NOON = 12 * 60
TWICE = (
    Part(SESSION, 500, 530, SOUTH, key="a"),
    Part(DRIVE, 530, 560, NORTH, SOUTH),
    Part(SESSION, 560, 600, NORTH, key="b"),
    Part(DRIVE, 840, 870, SOUTH, NORTH),
    Part(SESSION, 870, 900, SOUTH, key="c"),
    Part(DRIVE, 900, 930, WEST, SOUTH),
    Part(SESSION, 930, 960, WEST, key="d"),
)


def noon(*schools: int) -> Standing:
    """The schools send their students home at noon."""
    return Standing({}, bases=frozenset({BASE}), dismissed=dict.fromkeys(schools, NOON))


def test_a_school_that_closed_at_noon_is_not_driven_to_at_half_past_two() -> None:
    """The morning there took place: it is a stop still, and from the north one drives straight to the west."""
    shape = shape_day(TWICE, noon(SOUTH))
    gone = Off(Why.DISMISSED, SOUTH)
    assert shape.off == {3: gone, 4: gone, 5: gone}
    assert shape.stops == (SOUTH, NORTH, WEST)
    assert shape.straight == (Straight(NORTH, WEST, 840, 930),)
    assert shape.left_out == {}, "it was driven to in the morning"
    assert not shape.is_off
    assert off_words(gone, NAMES) == "South School sends students home before"


def test_a_school_with_nothing_but_an_afternoon_is_left_out() -> None:
    """Nothing is left of the afternoon if the west closes too: the day ends in the north."""
    shape = shape_day(TWICE, noon(SOUTH, WEST))
    assert shape.stops == (SOUTH, NORTH)
    assert list(shape.left_out) == [WEST]
    assert set(shape.off) == {3, 4, 5, 6}


def test_a_school_where_the_log_says_that_somebody_was_taught_was_driven_to() -> None:
    """After its last bell too, and known as the school that it is: from there one drives straight past the west."""
    day = (*TWICE[2:], Part(DRIVE, 960, 990, BASE, WEST))
    shape = shape_day(day, replace(noon(SOUTH, WEST), taught=frozenset({"c"})))
    assert shape.stops == (NORTH, SOUTH, BASE)
    assert shape.straight == (Straight(SOUTH, BASE, 900, 990),)
    assert set(shape.off) == {3, 4, 5}


def test_whoever_stays_past_noon_drives_home_from_there() -> None:
    """The morning's session and the afternoon's are of one stay: the drive away from it takes place."""
    stay = (Part(SESSION, 690, 720, SOUTH, key="a"), Part(SESSION, 870, 900, SOUTH, key="b"), *TWICE[5:])
    shape = shape_day(stay, noon(SOUTH))
    assert shape.off == {1: Off(Why.DISMISSED, SOUTH)}
    assert (shape.stops, shape.left_out) == ((SOUTH, WEST), {})


def test_a_meeting_after_the_last_bell_and_what_begins_before_it_are_driven_to() -> None:
    """Staff stay, and a session that the last bell cuts short is for the teacher to look at."""
    met = (*TWICE[:4], Part(MEETING, 900, 930, SOUTH), *TWICE[4:])
    assert shape_day(met, noon(SOUTH)).stops == (SOUTH, NORTH, SOUTH, WEST)
    cut = shape_day(TWICE, Standing({}, dismissed={SOUTH: 871}))
    assert (cut.off, cut.stops) == ({}, (SOUTH, NORTH, SOUTH, WEST))
