"""What the weeks of a term hold of monthly and yearly minutes, from rows to each week's problem."""

import datetime as dt
from collections.abc import Mapping, Sequence

import pytest

from accounts.models import Person
from caseload.delivery.models import LedgerSettings
from caseload.plans.frequency import read_frequency
from caseload.plans.models import ServiceLine
from schedule.terms.selectors.minutes import TermMinutes, term_minutes
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.planning.quotas import Owed
from tests.conftest import Cast
from tests.schedule.builders import make_entry, make_ground, make_line, make_week
from travel.places.models import Building

NOVEMBER = [dt.date(2026, 11, day) for day in (2, 9, 16, 23)]
TODAY = dt.date(2026, 10, 30)


def minutes_of_term(
    teacher: Person, mondays: Sequence[dt.date] = NOVEMBER, today: dt.date = TODAY
) -> tuple[TermMinutes, list[dt.date]]:
    """What is decided, and the weeks that were read for it."""
    read: list[dt.date] = []

    def load(monday: dt.date, counts: Mapping[int, Owed]) -> WeekInput:
        read.append(monday)
        return load_week(teacher, monday, Base(counts=counts))

    return term_minutes(teacher, mondays, load, today), read


def monthly(cast: Cast, code: str, statement: str, building: Building | None = None) -> ServiceLine:
    """A service by the month or longer."""
    how = read_frequency(statement)
    return make_line(
        cast,
        code,
        building=building,
        statement=statement,
        times=how.times,
        minutes=how.minutes,
        unit=how.unit.value,
    )


def counts(found: TermMinutes, line: ServiceLine) -> list[int]:
    return [week[line.pk].sessions for _, week in sorted(found.counts.items())]


def test_a_month_is_spread_over_its_weeks(cast: Cast) -> None:
    make_ground(cast)
    line = monthly(cast, "M1", "4 x 30 min/month")
    found, read = minutes_of_term(cast.teacher)
    assert counts(found, line) == [1, 1, 1, 1]
    assert read == NOVEMBER
    week = load_week(cast.teacher, NOVEMBER[0], Base(counts=found.counts[NOVEMBER[0]]))
    assert week.problem.unit(f"line-{line.pk}").sessions == 1  # type: ignore[union-attr]


def test_a_closed_week_is_made_good_within_the_month(cast: Cast) -> None:
    make_ground(cast)
    line = monthly(cast, "M1", "4 x 30 min/month")
    for day in range(16, 21):
        make_entry(cast, dt.date(2026, 11, day), "closed", cast.north)
    # The south keeps the week in the calendar; the student's school is closed in it.
    make_line(cast, "F1", building=cast.south)
    found, _ = minutes_of_term(cast.teacher)
    assert sum(counts(found, line)) == 4
    assert counts(found, line)[2] == 0


def test_sessions_go_where_the_teacher_is_anyway(cast: Cast) -> None:
    # The south's only weekly service begins on November 16: before that a day there would be one more trip.
    make_ground(cast)
    cast.line.delete()
    make_line(cast, "N1")
    make_line(cast, "F1", building=cast.south, start=dt.date(2026, 11, 16), statement="2 x 30 min/week", times=2)
    line = monthly(cast, "M1", "4 x 30 min/month", building=cast.south)
    found, _ = minutes_of_term(cast.teacher)
    assert counts(found, line) == [0, 0, 2, 2]
    said = next(one for one in found.lines if one.line == line.pk)
    south = cast.south.name
    assert said.words[0] == (
        "4 x 30 minutes owed in November 2026: 2 in each of the weeks of November 16 and 23, when you are at "
        f"{south} anyway."
    )
    assert (said.owed, said.placed, said.behind) == (120, 120, "")


def test_what_other_weeks_hold_counts(cast: Cast) -> None:
    # November owes 2; one is published in the week of November 9, so the weeks after it owe one.
    make_ground(cast)
    line = monthly(cast, "M1", "2 x 30 min/month")
    week = make_week(cast, [(f"line-{line.pk}", NOVEMBER[1], "8:30")], monday=NOVEMBER[1])
    week.status = week.Status.PUBLISHED
    week.save()
    found, _ = minutes_of_term(cast.teacher, NOVEMBER[2:], dt.date(2026, 11, 13))
    assert sum(counts(found, line)) == 1


def test_a_session_of_december_is_held_in_december(cast: Cast) -> None:
    # Monday, November 30 is November's; Tuesday to Friday are December's and owe one of its three. The first week
    # in use owes of November its one day's share: 3 x 1/20, nearest 0.
    make_ground(cast)
    line = monthly(cast, "M1", "3 x 30 min/month")
    monday = dt.date(2026, 11, 30)
    found, _ = minutes_of_term(cast.teacher, [monday], dt.date(2026, 11, 27))
    week = load_week(cast.teacher, monday, Base(counts=found.counts[monday]))
    assert found.counts[monday][line.pk].sessions == 1
    assert {one.day for one in week.problem.starts_of(f"line-{line.pk}")} == {f"2026-12-0{n}" for n in range(1, 5)}


def test_dates_narrow_the_starts_of_a_week(cast: Cast) -> None:
    make_ground(cast)
    only = frozenset({dt.date(2026, 12, 1)})
    week = load_week(cast.teacher, dt.date(2026, 11, 30), Base(counts={cast.line.pk: Owed(1, 30, dates=only)}))
    assert {one.day for one in week.problem.starts_of(f"line-{cast.line.pk}")} == {"2026-12-01"}


def test_counts_leave_other_services_as_they_are(cast: Cast) -> None:
    make_ground(cast)
    other = make_line(cast, "N1", statement="3 x 30 min/week", times=3)
    week = load_week(cast.teacher, NOVEMBER[0], Base(counts={cast.line.pk: Owed(0, 30)}))
    assert {one.id: one.sessions for one in week.problem.services} == {f"line-{other.pk}": 3}


def test_a_term_without_longer_periods_is_read_once(cast: Cast) -> None:
    make_ground(cast)
    found, read = minutes_of_term(cast.teacher)
    assert found.counts == {}
    assert list(found.loaded) == read == NOVEMBER


def test_more_than_the_days_hold_is_behind_and_says_so(cast: Cast) -> None:
    # Two weeks of five days, one session a day: 10 of 12 have a day.
    make_ground(cast)
    for monday in NOVEMBER[2:]:
        for day in range(5):
            make_entry(cast, monday + dt.timedelta(days=day), "closed", cast.north)
    make_entry(cast, dt.date(2026, 11, 30), "closed", cast.north)
    make_line(cast, "F1", building=cast.south)
    line = monthly(cast, "M1", "12 x 30 min/month")
    found, _ = minutes_of_term(cast.teacher)
    said = next(one for one in found.lines if one.line == line.pk)
    assert (said.owed, said.placed) == (360, 300)
    assert said.behind == "60 minutes will be behind: these weeks have no day left for them."
    assert [one.line for one in found.behind] == [line.pk]


@pytest.mark.parametrize(("rule", "made_up"), [("whole", True), ("as_scheduled", False)])
def test_a_short_week_is_made_good_where_the_district_owes_it(cast: Cast, rule: str, made_up: bool) -> None:
    # 3 x 30 a week; the week of November 9 has two days. By the rule "whole" it owes 90 minutes, and holds 60.
    make_ground(cast)
    LedgerSettings.objects.create(district=cast.district, first_day=dt.date(2026, 8, 1), short_week=rule)
    line = make_line(cast, "N1", statement="3 x 30 min/week", times=3)
    for day in (9, 10, 11):
        make_entry(cast, dt.date(2026, 11, day), "closed")
    found, _ = minutes_of_term(cast.teacher)
    wanted = {NOVEMBER[2]: {MakeUp((line.pk,), 30): 1}} if made_up else {}
    assert found.make_ups == wanted


def test_a_reserve_is_kept_for_what_will_be_missed(cast: Cast) -> None:
    make_ground(cast)
    line = monthly(cast, "M1", "4 x 30 min/month")
    found, _ = minutes_of_term(cast.teacher)
    said = next(one for one in found.lines if one.line == line.pk)
    assert 0 < said.reserve == said.reserve_wanted
    assert said.ends_short <= 0.1
    assert said.behind == ""
    assert any("in reserve for November 2026" in sentence for sentence in said.words)
