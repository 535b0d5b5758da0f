"""What a planning week owes: dated changes, even pace, and the whole of every period in the end."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.plans.frequency import Frequency, FrequencyUnit, read_frequency
from caseload.plans.quota import Quota, QuotaError, even_lengths, week_quota

LONG_AGO, FAR_OFF = date(2000, 1, 1), date(2100, 1, 1)


def weekdays(first: date, count: int) -> list[date]:
    """The given number of Mondays to Fridays from a date on."""
    days = (first + timedelta(days=n) for n in range(2 * count + 7))
    return [day for day in days if day.weekday() < 5][:count]


# Four whole weeks from Monday 1 to Friday February 26, 2027.
MONTH = weekdays(date(2027, 2, 1), 20)
WEEKS = [MONTH[n : n + 5] for n in range(0, 20, 5)]


def run_period(text: str, weeks: list[list[date]], longest: int | None = None) -> list[Quota]:
    """Place every week's quota and go on to the next week."""
    placed: list[int] = []
    quotas = []
    for week in weeks:
        quota = week_quota(
            read_frequency(text),
            line_first=LONG_AGO,
            line_last=FAR_OFF,
            week_days=week,
            period_days=[day for days in weeks for day in days],
            placed=placed,
            longest=longest,
        )
        placed.extend(quota.lengths)
        quotas.append(quota)
    return quotas


def test_a_dated_change_of_three_lines() -> None:
    """A published decision: 3 x 20 a week from September 5 to December 1, 2011, then 1 x 20 a week in each of two
    settings from December 2, 2011 (to March 1 and to May 1, 2012). The week of December 5 owes 40 minutes."""
    lines = [
        (Frequency(times=3, minutes=20), date(2011, 9, 5), date(2011, 12, 1)),
        (Frequency(times=1, minutes=20), date(2011, 12, 2), date(2012, 3, 1)),
        (Frequency(times=1, minutes=20), date(2011, 12, 2), date(2012, 5, 1)),
    ]

    def minutes_owed(monday: date) -> int:
        week = weekdays(monday, 5)
        return sum(
            week_quota(line, line_first=first, line_last=last, week_days=week, period_days=week).minutes
            for line, first, last in lines
        )

    assert minutes_owed(date(2011, 12, 5)) == 40
    # The same arithmetic (computed): a whole week before, one after the second line's end, one after all.
    assert minutes_owed(date(2011, 11, 14)) == 60
    assert minutes_owed(date(2012, 3, 5)) == 20
    assert minutes_owed(date(2012, 5, 7)) == 0


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Worked by hand: 6 over 20 days; ceil(6*5/20)=2; pace ceil(6*10/20)=3, so 1; pace ceil(6*15/20)=5, so 2; 1.
        ("six times per month for 20 minutes", [2, 1, 2, 1]),
        ("20 minutes one time per month", [1, 0, 0, 0]),
        ("4 x 30 min/month", [1, 1, 1, 1]),
        ("3 of 4 weeks, 30 min", [1, 1, 1, 0]),
        ("2 x 30 min/week, 2 of 4 weeks", [1, 1, 1, 1]),
    ],
)
def test_sessions_are_spread_over_the_period(text: str, expected: list[int]) -> None:
    assert [quota.sessions for quota in run_period(text, WEEKS)] == expected


def test_minutes_without_a_count_are_cut_into_sessions() -> None:
    quotas = run_period("90 min/month", WEEKS, longest=30)
    assert [quota.lengths for quota in quotas] == [(30,), (30,), (30,), ()]
    assert run_period("120 min/week", [WEEKS[0]], longest=45)[0].lengths == (40, 40, 40)
    assert [quota.minutes for quota in run_period("60 min/week, 3 of 4 weeks", WEEKS, longest=30)] == [
        60,
        60,
        60,
        0,
    ]


def test_three_sessions_a_year_do_not_all_come_in_september() -> None:
    weeks = [weekdays(date(2026, 9, 7) + timedelta(weeks=n), 5) for n in range(36)]
    placed_in = [n for n, quota in enumerate(run_period("3 times a year 15 minutes", weeks)) if quota.sessions]
    assert placed_in == [0, 12, 24]


def test_a_backlog_is_shared_among_the_weeks_left() -> None:
    """Nothing was placed in the first two weeks of a month that owes 6: 3 and 3 remain, not 5 and 1."""
    quota = week_quota(
        read_frequency("6 x 20 min/month"),
        line_first=LONG_AGO,
        line_last=FAR_OFF,
        week_days=WEEKS[2],
        period_days=MONTH,
    )
    assert quota.lengths == (20, 20, 20)
    assert quota.reason == (
        "6 x 20 min/month: 6 sessions owed in the period, 0 placed in its other weeks; "
        "5 of the 10 school days left fall in this week, so 3 this week."
    )


def test_a_short_week_still_owes_its_weekly_sessions() -> None:
    short = WEEKS[0][:3]
    quota = run_period("2 x 30 min/week", [short])[0]
    assert quota.lengths == (30, 30)


@pytest.mark.parametrize(("proportional", "sessions"), [(False, 4), (True, 2)])
def test_a_line_that_starts_in_the_middle_owes_the_whole_unless_a_share_is_asked_for(
    proportional: bool, sessions: int
) -> None:
    """Starts after 10 of 20 school days: half of 4 sessions, all in the 10 days left."""
    total = 0
    placed: list[int] = []
    for week in WEEKS:
        quota = week_quota(
            read_frequency("4 x 30 min/month"),
            line_first=WEEKS[2][0],
            line_last=FAR_OFF,
            week_days=week,
            period_days=MONTH,
            placed=placed,
            proportional=proportional,
        )
        placed.extend(quota.lengths)
        total += quota.sessions
    assert total == sessions


def one_week(
    text: str, week: list[date], placed: tuple[int, ...] = (), *, first: date = LONG_AGO, last: date = FAR_OFF
) -> Quota:
    """What one week of February 2027 has to place."""
    return week_quota(
        read_frequency(text),
        line_first=first,
        line_last=last,
        week_days=week,
        period_days=MONTH,
        placed=placed,
        longest=30,
    )


def test_the_whole_is_owed_where_nothing_else_is_said() -> None:
    """A line that begins in the third of four weeks owes its four sessions: two in each week left."""
    assert one_week("4 x 30 min/month", WEEKS[2], first=WEEKS[2][0]).sessions == 2


def test_no_week_holds_more_than_the_weekly_sessions_of_a_turn() -> None:
    """Two of four weeks, two sessions each, nothing placed before the last week: two, though four are left."""
    assert one_week("2 x 30 min/week, 2 of 4 weeks", WEEKS[3]).sessions == 2


def test_a_period_of_weeks_is_spread_over_all_of_them() -> None:
    """240 minutes in four weeks are 60 in each; 3 x 30 in two weeks are two sessions, then one."""
    assert [quota.minutes for quota in run_period("240 minutes per 4 weeks", WEEKS, longest=30)] == [60] * 4
    assert [quota.sessions for quota in run_period("3 x 30 min every 2 weeks", WEEKS[:2])] == [2, 1]


def test_a_turn_of_minutes_keeps_an_even_pace() -> None:
    """60 minutes in two of four weeks: after the first week half is placed, which is enough until the third."""
    quotas = run_period("60 min/week, 2 of 4 weeks", WEEKS, longest=30)
    assert [quota.minutes for quota in quotas] == [60, 0, 60, 0]


def test_what_is_placed_is_taken_off_before_the_rest_is_shared() -> None:
    """One of six is placed: five over two weeks are three in the third week, not four."""
    assert one_week("6 x 20 min/month", WEEKS[2], (20,)).sessions == 3


def test_a_service_of_one_day_is_owed_on_that_day() -> None:
    """Its first day is its last, and both count; the days before and after don't."""
    wednesday = WEEKS[0][2]
    quota = one_week("1 x 30 min/month", WEEKS[0], first=wednesday, last=wednesday)
    assert quota.lengths == (30,)
    assert "1 of the 1 school days left" in quota.reason


def test_the_reason_speaks_of_what_is_counted() -> None:
    """Sessions or minutes; and of other weeks only where the period has some."""
    assert "sessions owed" in one_week("4 x 30 min/month", WEEKS[0]).reason
    assert "minutes owed" in one_week("90 min/month", WEEKS[0]).reason
    assert "other weeks" in one_week("4 x 30 min/month", WEEKS[0]).reason
    assert "other weeks" not in run_period("2 x 30 min/week", WEEKS[:1])[0].reason


def test_nothing_is_owed_outside_the_dates() -> None:
    quota = week_quota(
        read_frequency("2 x 30 min/week"),
        line_first=date(2027, 3, 1),
        line_last=FAR_OFF,
        week_days=WEEKS[0],
        period_days=WEEKS[0],
    )
    assert quota == Quota(
        (), "2 x 30 min/week: no school day of this week falls in the service's dates and this period."
    )


def test_a_daily_service_is_placed_on_each_school_day() -> None:
    """Once on each of the five days of a whole week, twice on each of three; Monday and Tuesday have no school."""
    short = WEEKS[0][2:]
    assert one_week("30 minutes daily", WEEKS[0]).lengths == (30,) * 5
    assert one_week("twice a day 10 minutes", short).lengths == (10,) * 6
    assert one_week("30 minutes daily", WEEKS[0], (30, 30)).lengths == (30,) * 3
    assert one_week("30 minutes daily", WEEKS[0], first=WEEKS[0][4]).lengths == (30,)


def test_a_daily_service_that_is_placed_already_owes_nothing_more() -> None:
    """The week's own sessions, booked by hand before it is planned."""
    for placed in ([30] * 5, [30] * 6):
        quota = week_quota(
            Frequency(times=1, minutes=30, unit=FrequencyUnit.DAY),
            line_first=LONG_AGO,
            line_last=FAR_OFF,
            week_days=WEEKS[0],
            period_days=MONTH,
            placed=placed,
        )
        assert quota.lengths == ()


def test_what_has_been_placed_beyond_the_owed_leaves_nothing() -> None:
    for text, placed in (("4 x 30 min/month", [30] * 5), ("90 min/month", [60, 60])):
        quota = week_quota(
            read_frequency(text),
            line_first=LONG_AGO,
            line_last=FAR_OFF,
            week_days=WEEKS[3],
            period_days=MONTH,
            placed=placed,
            longest=30,
        )
        assert quota.sessions == 0


@pytest.mark.parametrize(
    ("text", "words"), [("3 of 4 weeks", "how long a session is"), ("90 min/month", "at most")]
)
def test_a_length_that_is_not_known_is_asked_for(text: str, words: str) -> None:
    with pytest.raises(QuotaError, match=words):
        run_period(text, WEEKS)


week_sizes = st.lists(st.integers(0, 5), min_size=1, max_size=12).filter(any)


@given(st.integers(1, 30), week_sizes)
def test_every_period_gets_exactly_what_it_owes_and_no_week_is_crowded(times: int, sizes: list[int]) -> None:
    weeks = [weekdays(date(2027, 2, 1) + timedelta(weeks=n), size) for n, size in enumerate(sizes)]
    quotas = run_period(f"{times} x 30 min/month", weeks)
    assert sum(quota.sessions for quota in quotas) == times
    for size, quota in zip(sizes, quotas, strict=True):
        assert quota.sessions <= -(-times * size // sum(sizes))  # never above its even share, rounded up


@given(st.integers(1, 900), st.integers(1, 90), week_sizes)
def test_minutes_add_up_to_the_owed(total: int, longest: int, sizes: list[int]) -> None:
    weeks = [weekdays(date(2027, 2, 1) + timedelta(weeks=n), size) for n, size in enumerate(sizes)]
    quotas = run_period(f"{total} min/month", weeks, longest=longest)
    assert sum(quota.minutes for quota in quotas) == total
    assert all(length <= longest for quota in quotas for length in quota.lengths)


def test_the_unit_of_a_cycle_takes_its_own_days() -> None:
    """A 6-day cycle from Wednesday to Wednesday: its one session goes to the week in which it begins."""
    turn = [*WEEKS[0][2:], *WEEKS[1][:3]]
    line = Frequency(times=1, minutes=45, unit=FrequencyUnit.CYCLE, cycle_days=6)
    first = week_quota(line, line_first=LONG_AGO, line_last=FAR_OFF, week_days=WEEKS[0], period_days=turn)
    second = week_quota(
        line, line_first=LONG_AGO, line_last=FAR_OFF, week_days=WEEKS[1], period_days=turn, placed=first.lengths
    )
    assert (first.lengths, second.lengths) == ((45,), ())


@pytest.mark.parametrize(
    ("total", "longest", "lengths"),
    [
        # By hand: 3 of at most 45 don't divide 100, 4 of 25 do.
        (100, 45, (25, 25, 25, 25)),
        (90, 30, (30, 30, 30)),
        (20, 45, (20,)),
        # A prime stays uneven; 95 is five of 19, which is less than half of 60.
        (101, 45, (34, 34, 33)),
        (95, 60, (48, 47)),
        (0, 30, ()),
    ],
)
def test_sessions_are_of_one_length_where_the_minutes_allow(
    total: int, longest: int, lengths: tuple[int, ...]
) -> None:
    assert even_lengths(total, longest) == lengths


@given(total=st.integers(1, 2000), longest=st.integers(10, 120))
def test_even_sessions_lose_nothing_and_stay_near_the_longest(total: int, longest: int) -> None:
    """They add up, none is too long, and evenness makes none shorter than half the longest."""
    lengths = even_lengths(total, longest)
    assert sum(lengths) == total
    assert max(lengths) <= longest
    assert len(lengths) <= max(-(-total // longest), 2 * total // longest)
