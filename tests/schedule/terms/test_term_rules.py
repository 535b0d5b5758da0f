"""The pure rules of a term: what is unusual about a day, of which kind a week is, what stays the same, names."""

import datetime as dt

from schedule.calendar.laid_out import DayFacts
from schedule.planner.days import Day, Place
from schedule.planner.problem import Group, Problem, Service, Session, Start
from schedule.planner.term.following import once_each
from schedule.planner.term.term import StandingSession, StandingTimetable
from schedule.terms.days import PlaceDay, WeekKind, kind_of_week, unusual_days
from schedule.terms.sameness import Side, sameness, stands_in
from schedule.terms.unit_ids import renamed_line, week_ids
from schedule.terms.words import day_of_key, in_plain_words, when_words

MONDAY = dt.date(2026, 9, 14)


def day(
    place: str, weekday: int, label: str = "", *, reason: str = "", is_open: bool = True, by_week: bool = False
) -> PlaceDay:
    date = MONDAY + dt.timedelta(days=weekday)
    facts = DayFacts(date, open=is_open, cycle_label=label, reason=reason, by_week=by_week)
    return PlaceDay(place, place.capitalize(), facts)


def test_a_closed_day_bears_the_key_that_it_would_have() -> None:
    """A weekday, and in A weeks that of the week's letter, which the closed day itself doesn't bear."""
    days = [
        day("cedar", 0, reason="Wind day", is_open=False),
        day("birch", 0, reason="Wind day", is_open=False, by_week=True),
        day("birch", 1, "A", by_week=True),
    ]
    found = [(one.place, one.pattern_key, one.words, one.closed) for one in unusual_days(days)]
    assert found == [
        ("cedar", "monday", "closed (Wind day)", True),
        ("birch", "A monday", "closed (Wind day)", True),
    ]


def test_a_rotation_loses_no_day_and_other_bells_are_told() -> None:
    days = [
        day("oak", 0, reason="Wind day", is_open=False),
        day("oak", 1, "Day 3"),
        day("oak", 2, "Day 4", reason="Early dismissal"),
    ]
    found = [(one.pattern_key, one.words, one.closed) for one in unusual_days(days)]
    assert found == [("Day 4", "on other bells (Early dismissal)", False)]


def test_kinds_of_weeks() -> None:
    assert kind_of_week([day("cedar", 0), day("cedar", 1)]) == WeekKind("Every week")
    assert kind_of_week([day("birch", 1, "A", by_week=True)]) == WeekKind("A weeks")
    assert kind_of_week([day("oak", 1, "Day 3"), day("oak", 0, is_open=False)]).turn == "begins on Day 3"
    apart = kind_of_week([day("birch", 0, "A", by_week=True), day("elm", 0, "B", by_week=True)])
    assert apart.letter == "A weeks at Birch, B weeks at Elm"


def problem() -> Problem:
    """Two services and their group on Monday and Tuesday, two starts a day."""
    starts = tuple(
        Start(one, at, "cedar", space, one)
        for one in ("monday", "tuesday")
        for at, space in ((540, "gym"), (600, "room"))
    )
    return Problem(
        places=(Place("cedar"),),
        drive_minutes={},
        days=(Day("monday", 480, 900), Day("tuesday", 480, 900)),
        services=(Service("a", 30, 1, starts), Service("b", 30, 1, starts)),
        groups=(Group("a+b", ("a", "b"), 30, starts),),
    )


def test_each_side_of_sameness_is_counted_by_itself() -> None:
    """Both stand on Monday at 9:00 in the gym, each alone; in one week they are joined on Tuesday at 9:00 there."""
    standing = StandingTimetable(
        (StandingSession("a", "monday", 540, "cedar", "gym"), StandingSession("b", "monday", 600, "cedar", "room"))
    )
    usual = [Session("a", "monday", 540, "cedar", "gym"), Session("b", "monday", 600, "cedar", "room")]
    joined = [Session("a+b", "tuesday", 540, "cedar", "gym")]
    weeks = [(problem(), usual), (problem(), joined)]
    found = sameness(weeks, standing)
    assert dict(found.of) == {Side.DAY: 4, Side.TIME: 4, Side.PLACE: 4, Side.COMPANY: 4}
    assert dict(found.kept) == {Side.DAY: 2, Side.TIME: 3, Side.PLACE: 3, Side.COMPANY: 2}
    assert list(stands_in(weeks, standing).values()) == [1, 1]


def test_a_day_between_sessions() -> None:
    def spread(*days: str) -> list[int]:
        rows = tuple(StandingSession("a", one, 540, "cedar") for one in days)
        return sameness([(problem(), [])], StandingTimetable(rows)).as_json()["spread"]

    assert spread("monday", "wednesday", "friday") == [1, 1]
    assert spread("monday", "tuesday") == [0, 1]
    assert spread("A monday", "B tuesday") == [0, 0], "a letter apart, a week apart"
    assert spread("Day 1", "Day 2") == [0, 0], "a cycle day has no weekday"


def test_versions_of_a_service_are_one_unit() -> None:
    firsts = {12: 5, 13: 13}
    assert renamed_line("line-12", firsts) == "line-5"
    assert renamed_line("group-12-13", firsts) == "group-5-13"
    assert renamed_line("class-3-30", firsts) == "class-3-30"
    both = week_ids({"line-5": "line-5", "line-12": "line-5"})
    assert both.in_term == {}, "a week with both versions keeps them apart"
    assert week_ids({"line-12": "line-5"}).in_week == {"line-5": "line-12"}


def test_times_in_words() -> None:
    assert when_words(1, "", 570) == "Tuesdays 9:30"
    assert when_words(1, "A", 785) == "Tuesdays of A weeks 1:05"
    assert when_words(None, "Day 3", 570) == "Day 3, 9:30"
    assert [day_of_key(key) for key in ("tuesday", "A tuesday", "Day 3")] == [(1, ""), (1, "A"), (None, "Day 3")]
    told = in_plain_words("Ann, A tuesday 9:30 at Cedar: closed.", "A tuesday", 570)
    assert told == "Ann, Tuesdays of A weeks 9:30 at Cedar: closed."


def test_a_timetable_holds_each_moment_of_a_unit_once() -> None:
    """A session that a short week doesn't expect is found again in the plan: it stands there already."""
    one = StandingSession("a", "monday", 540, "cedar", "gym")
    other = StandingSession("a", "monday", 540, "cedar", "room")
    assert once_each([one, other, StandingSession("a", "tuesday", 540, "cedar")]).sessions[0] == one
    assert len(once_each([one, other]).sessions) == 1
