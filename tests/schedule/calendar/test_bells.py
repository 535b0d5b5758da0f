"""Bell schedules: reading clock times, faults in words, lunch by grade, and where sessions may start."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.calendar.bells import (
    BellError,
    BellKind,
    Bells,
    ClockError,
    Period,
    PeriodKind,
    find_bell_problems,
    read_clock,
    starts_within,
    write_clock,
)


def at(text: str) -> int:
    return read_clock(text)


def period(name: str, start: str, end: str, kind: str = "instruction", *grades: str) -> Period:
    return Period(name, at(start), at(end), PeriodKind(kind), frozenset(grades))


@pytest.fixture
def regular() -> Bells:
    """An invented elementary school: a grid for everyone and two lunches by grade beside it."""
    return Bells(
        name="Regular day",
        passing_minutes=3,
        periods=(
            period("Homeroom", "8:30 AM", "8:40 AM", "homeroom"),
            period("Period 1", "8:40 AM", "9:25 AM"),
            period("Period 2", "9:28 AM", "10:13 AM"),
            period("Period 3", "10:30 AM", "11:15 AM"),
            period("Period 4", "11:18 AM", "12:30 PM"),
            period("Lunch K-2", "11:15 AM", "11:45 AM", "lunch", "K", "1", "2"),
            period("Lunch 3-5", "11:50 AM", "12:20 PM", "lunch", "3", "4", "5"),
            period("Period 5", "12:33 PM", "1:18 PM"),
        ),
    )


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("00:00", 0),
        ("08:05", 485),
        ("8:05", 485),
        ("23:59", 1439),
        ("12:00 AM", 0),
        ("12:00 pm", 720),
        ("1:05PM", 785),
        (" 1:05 p.m. ", 785),
        ("13:05:00", 785),
    ],
)
def test_clock_is_read_in_both_ways_of_writing(text: str, minutes: int) -> None:
    assert read_clock(text) == minutes


@pytest.mark.parametrize(
    "text", ["", "8", "8.05", "24:00", "12:60", "13:05 PM", "0:30 AM", "noon", "8:05:30", "8:5"]
)
def test_clock_that_cannot_be_read_is_named(text: str) -> None:
    with pytest.raises(ClockError) as caught:
        read_clock(text)
    assert f'"{text}"' in str(caught.value)


@given(st.integers(0, 1439), st.booleans())
def test_clock_comes_back_as_written(minutes: int, twelve_hour: bool) -> None:
    assert read_clock(write_clock(minutes, twelve_hour=twelve_hour)) == minutes


def test_the_clock_of_twelve_hours_is_the_c_librarys() -> None:
    """Every minute of the day as %I:%M %p writes it, without the leading nought: noon is 12:00 PM."""
    midnight = dt.datetime(2026, 9, 14, tzinfo=dt.UTC)
    for minute in range(1440):
        shown = (midnight + dt.timedelta(minutes=minute)).strftime("%I:%M %p").removeprefix("0")
        assert write_clock(minute, twelve_hour=True) == shown


@pytest.mark.parametrize("minutes", [-1, 1440])
def test_clock_outside_the_day_is_refused(minutes: int) -> None:
    with pytest.raises(ClockError, match="within one day"):
        write_clock(minutes)


@pytest.mark.parametrize(
    ("periods", "words"),
    [
        ((), ["no periods", "Add at least one"]),
        ((period("Period 1", "9:40", "9:00"),), ["Period 1", "ends at 09:00", "starts at 09:40", "PM"]),
        ((period("Period 1", "9:40", "9:40"),), ["Period 1", "ends at 09:40"]),
        (
            (period("Period 1", "9:00", "9:40"), period("period 1 ", "9:40", "10:00")),
            ["more than one period named"],
        ),
        (
            (period("Period 1", "9:00", "9:40"), period("Period 2", "9:39", "10:20")),
            ["Period 2", "09:39 to 10:20", "overlaps", "Period 1", "Change one of the times"],
        ),
        (
            (
                period("A", "9:00", "9:40", "instruction", "1"),
                period("B", "9:20", "9:50", "instruction", "1", "2"),
            ),
            ["overlaps"],
        ),
        # Two lunches at once for the same children, one of them for everyone.
        ((period("A", "11:00", "11:30", "lunch"), period("B", "11:10", "11:40", "lunch", "1")), ["overlaps"]),
        # A grid for one grade beside that for everyone, and a lunch for everyone in a class for everyone.
        (
            (period("A", "9:00", "9:40", "instruction", "1"), period("B", "9:20", "9:50")),
            ["overlaps"],
        ),
        ((period("A", "11:00", "11:40"), period("B", "11:20", "11:50", "lunch")), ["overlaps"]),
        ((Period("Late", 1430, 1450),), ["Late", "within one day"]),
        # Midnight begins a day and ends none: 00:00 is its first minute, 23:59 its last.
        ((Period("Late", 1430, 1440),), ["within one day", "23:50 to minute 1440"]),
        ((Period("Early", -5, 60),), ["within one day", "minute -5 to 01:00"]),
        ((Period("Early", -5, -1),), ["within one day"]),
        ((Period("Late", 1440, 1430),), ["within one day"]),
        ((Period("Early", 0, 0),), ["ends at 00:00", "starts at 00:00"]),
        ((Period(" ", 500, 540),), ["no name"]),
    ],
)
def test_faulty_schedule_is_refused_with_period_and_remedy(periods: tuple[Period, ...], words: list[str]) -> None:
    with pytest.raises(BellError) as caught:
        Bells("Regular day", periods)
    assert len(caught.value.problems) == 1
    assert str(caught.value) == caught.value.problems[0]
    for word in words:
        assert word in str(caught.value)


def test_a_day_runs_from_its_first_minute_to_its_last() -> None:
    Bells("Around the clock", (Period("Early", 0, 1), Period("Late", 1, 1439)))


def test_two_periods_without_a_name_are_told_so_and_no_more() -> None:
    """That they have the same name would be a riddle."""
    problems = find_bell_problems("Day", (period(" ", "9:00", "9:40"), period("", "10:00", "10:40")))
    assert ["no name" in problem for problem in problems] == [True, True]


def test_all_faults_are_reported_together() -> None:
    problems = find_bell_problems("", (period("A", "9:40", "9:00"), period("A", "10:00", "10:40")), -1)
    assert len(problems) == 4


def test_periods_of_different_grades_may_share_the_time() -> None:
    Bells(
        "Regular day",
        (period("A", "9:00", "9:40", "instruction", "1"), period("B", "9:20", "9:50", "instruction", "2")),
    )


def test_periods_that_touch_do_not_overlap() -> None:
    schedule = Bells("Day", (period("B", "9:40", "10:20"), period("A", "9:00", "9:40")))
    assert [p.name for p in schedule.periods] == ["A", "B"]


def test_lunch_is_found_by_grade(regular: Bells) -> None:
    lunches = {grade: [lunch.name for lunch in regular.lunches_for(grade)] for grade in ("1", "4", "8")}
    assert lunches == {"1": ["Lunch K-2"], "4": ["Lunch 3-5"], "8": []}


def test_a_lunch_for_everyone_serves_grades_that_have_none_of_their_own() -> None:
    schedule = Bells(
        "Day", (period("All", "12:00", "12:30", "lunch"), period("Early", "11:00", "11:30", "lunch", "K"))
    )
    assert [p.name for p in schedule.lunches_for("5")] == ["All"]
    assert [p.name for p in schedule.lunches_for("K")] == ["Early"]


def test_period_at_a_minute(regular: Bells) -> None:
    def name(text: str, grade: str | None = None) -> str | None:
        found = regular.period_at(at(text), grade)
        return found.name if found else None

    assert name("8:40") == "Period 1"
    assert name("9:25") is None  # the end is no longer in the period
    assert name("11:20") == "Period 4"
    assert name("11:20", "K") == "Lunch K-2"
    assert name("11:20", "4") == "Period 4"
    assert name("11:55", "4") == "Lunch 3-5"
    assert name("11:55") == "Period 4"
    assert name("11:16") == "Lunch K-2"


def test_a_two_hour_delay_is_the_buildings_own_bells() -> None:
    """One district's two-hour delay shortened a morning class to 10:25-12:15 (read in its bells)."""
    delayed = Bells("Two-hour delay", (period("Morning", "10:25", "12:15"),), BellKind.DELAYED_OPENING)
    assert delayed.periods[0].minutes == 110
    assert starts_within(delayed.periods[0], 110) == (at("10:25"),)
    assert starts_within(delayed.periods[0], 111) == ()


def test_sessions_start_with_the_period_unless_steps_are_asked_for() -> None:
    slot = period("Period 1", "9:00", "9:42")
    assert starts_within(slot, 30) == (at("9:00"),)
    assert starts_within(slot, 30, 5) == (at("9:00"), at("9:05"), at("9:10"))
    assert starts_within(slot, 42, 5) == (at("9:00"),)
    assert starts_within(slot, 43, 5) == ()


@pytest.mark.parametrize(("duration", "step"), [(0, None), (30, 0)])
def test_no_session_of_no_minutes(duration: int, step: int | None) -> None:
    with pytest.raises(ValueError, match="at least one minute"):
        starts_within(period("Period 1", "9:00", "9:42"), duration, step)


@given(st.integers(0, 1300), st.integers(1, 120), st.integers(1, 130), st.integers(1, 20))
def test_every_start_lies_inside_and_none_is_left_out(start: int, length: int, duration: int, step: int) -> None:
    slot = Period("P", start, start + length)
    expected = [
        m for m in range(start, start + length) if m + duration <= start + length and (m - start) % step == 0
    ]
    assert list(starts_within(slot, duration, step)) == expected


def test_starts_of_a_grade_keep_out_of_its_lunch(regular: Bells) -> None:
    assert regular.starts(45) == tuple(at(t) for t in ("8:40", "9:28", "10:30", "11:18", "12:33"))
    # Grade 1 eats 11:15-11:45, grade 4 11:50-12:20: only 11:18-11:48 is open to grade 4.
    assert at("11:18") not in regular.starts(30, grade="1")
    assert at("11:18") in regular.starts(30, grade="4")
    assert at("11:45") in regular.starts(30, grade="1", step=1)
    assert at("11:44") not in regular.starts(30, grade="1", step=1)
    assert at("10:45") in regular.starts(30, grade="1", step=1)


def test_a_grade_is_taken_from_its_own_periods_only() -> None:
    schedule = Bells(
        "Day",
        (period("A", "9:00", "9:40", "instruction", "1"), period("B", "9:20", "10:00", "instruction", "2")),
    )
    assert [schedule.starts(30, grade=grade) for grade in ("1", "2")] == [(at("9:00"),), (at("9:20"),)]
    assert schedule.starts(30) == (at("9:00"), at("9:20"))


def test_no_session_begins_between_two_periods(regular: Bells) -> None:
    """Children are in the hallway from 9:25 to 9:28, also where a session may run over that time."""
    starts = regular.starts(30, step=1, spanning=True)
    assert {at("9:24"), at("9:28")} <= set(starts)
    assert not {at("9:25"), at("9:26"), at("9:27")} & set(starts)


def test_without_passing_minutes_any_gap_ends_a_session() -> None:
    """One minute between two periods is a gap, none isn't."""
    apart, joined = (
        Bells("Day", (period("A", "9:00", "9:40"), period("B", start, "10:20"))) for start in ("9:41", "9:40")
    )
    assert (apart.starts(60, spanning=True), joined.starts(60, spanning=True)) == ((), (at("9:00"),))


def test_a_long_session_runs_over_passing_time_but_not_over_a_longer_gap(regular: Bells) -> None:
    assert regular.starts(90) == ()
    # Period 1 and 2 are 3 minutes apart (8:40-10:13); between 2 and 3 there are 17.
    assert regular.starts(90, spanning=True) == (at("8:40"), at("10:30"), at("11:18"))
    assert regular.starts(94, spanning=True) == (at("10:30"), at("11:18"))
