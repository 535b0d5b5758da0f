"""Which sessions of a standing timetable a week would hold."""

from dataclasses import replace

from schedule.planner.problem import Block, Day, Session
from schedule.planner.term.expected import against, expected_in
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek, UnusualDay
from tests.planner.term.builders import ann, at, week

MONDAY = StandingSession("ann", "monday", 540, "a")
TUESDAY = StandingSession("ann", "tuesday", 540, "a")


def sessions_of(one: TermWeek, *standing: StandingSession) -> list[tuple[str, bool]]:
    """Kind of day of each session expected, and whether it is open."""
    return [(each.standing.pattern_key, each.open) for each in expected_in(one, StandingTimetable(standing))]


def test_a_session_stands_on_each_day_of_its_kind() -> None:
    """The dated day, with place and length of the start."""
    one = week(1, ann(at(540), at(600)))
    (found,) = expected_in(one, StandingTimetable((MONDAY,)))
    assert found.session == Session("ann", "mon 1", 540, "a")


def test_no_more_come_than_are_owed_and_those_that_can_be_held_come_first() -> None:
    """Two stand, one is owed: the one whose start exists, else the timetable's first."""
    both = week(1, ann(at(540), at(540, day="tue")))
    closed_monday = week(2, ann(at(540, day="tue")), unusual=(UnusualDay("a", "monday", "no school"),))
    assert sessions_of(both, MONDAY, TUESDAY) == [("monday", True)]
    assert sessions_of(closed_monday, MONDAY, TUESDAY) == [("tuesday", True)]


def test_a_kind_of_day_that_does_not_come_is_not_expected() -> None:
    """Cycle day 3 is missing from some weeks; a closed Monday is expected all the same."""
    third = StandingSession("ann", "Day 3", 540, "a")
    assert sessions_of(week(1, ann(at(540))), third) == []
    closed = week(1, ann(at(540, day="tue")), unusual=(UnusualDay("a", "monday", "no school"),))
    assert sessions_of(closed, MONDAY) == [("monday", False)]


def test_a_day_is_known_by_the_starts_of_others_there() -> None:
    """Ann can't begin at 9:00 this Monday, others can: the session is expected and not open."""
    one = week(1, ann(at(600)), ann(at(540), name="ben"))
    assert sessions_of(one, MONDAY) == [("monday", False)]


def test_a_service_that_has_not_begun_is_not_expected() -> None:
    """Nor one that owes nothing in this week."""
    assert sessions_of(week(1, ann(at(540), name="ben")), MONDAY) == []
    assert sessions_of(week(1, ann(at(540), sessions=0)), MONDAY) == []


def test_a_block_or_the_end_of_the_day_is_in_the_way() -> None:
    """The start exists, but the teacher can't be there."""
    one = week(1, ann(at(540)))
    meeting = Day("mon 1", 480, 720, blocks=(Block(560, 580),))
    early = Day("mon 1", 480, 560)
    for day in (meeting, early):
        changed = replace(one, problem=replace(one.problem, days=(day, one.problem.days[1])))
        (found,) = expected_in(changed, StandingTimetable((MONDAY,)))
        assert found.blocked
        assert not found.open


def test_the_standing_space_is_preferred() -> None:
    """Two spaces are free then; without the standing one the other will do."""
    in_gym = replace(MONDAY, space="gym")
    one = week(1, ann(at(540, space="room"), at(540, space="gym")))
    other = week(1, ann(at(540, space="room")))
    spaces = [expected_in(each, StandingTimetable((in_gym,)))[0].session for each in (one, other)]
    assert [None if each is None else each.space for each in spaces] == ["gym", "room"]


def test_a_week_is_compared_with_what_it_can_keep() -> None:
    """A session without a start doesn't count as moved; its time is usual all the same."""
    one = week(1, ann(at(540, day="tue"), sessions=2), unusual=(UnusualDay("a", "monday", "no school"),))
    problem = against(one, StandingTimetable((MONDAY, TUESDAY)))
    assert problem.current == (Session("ann", "tue 1", 540, "a"),)
    assert problem.services[0].usual == (("monday", 540), ("tuesday", 540))
