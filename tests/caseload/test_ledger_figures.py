"""Figures of several ledgers together, and the sentences behind each number."""

import datetime as dt
from dataclasses import fields

from hypothesis import given
from hypothesis import strategies as st

from caseload.ledger.defaults import COMMON_PRACTICE, DEFAULT_REASONS
from caseload.ledger.figures import MinuteFigures, figures_of, figures_together
from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import Effect, LedgerCalendar, LedgerLine, LedgerRules, SessionRecord, Span
from caseload.plans.frequency import read_frequency
from tests.caseload.ledger_lines import changed, one_line

YEAR = Span("2026-27", dt.date(2026, 9, 7), dt.date(2027, 6, 18))
MONDAY = dt.date(2026, 10, 5)
CALENDAR = LedgerCalendar(
    YEAR,
    frozenset(
        day
        for n in range((YEAR.last - YEAR.first).days + 1)
        if (day := YEAR.first + dt.timedelta(days=n)).weekday() < 5
    ),
)
RULES = LedgerRules(effects={one.code: one.effect for one in DEFAULT_REASONS})
WEEKS = st.lists(
    st.tuples(
        st.integers(0, 3),
        st.integers(0, 4),
        st.one_of(st.none(), st.integers(0, 60)),
        st.sampled_from([one.code for one in DEFAULT_REASONS]),
        st.booleans(),
    ),
    max_size=8,
)
type Told = list[tuple[int, int, int | None, str, bool]]


def sessions(told: Told, student: int = 0) -> list[SessionRecord]:
    """Sessions of 30 minutes by week, weekday, delivered minutes, reason and whether they make up."""
    return [
        SessionRecord(
            f"{student}-{n}", MONDAY + dt.timedelta(days=7 * week + day), 30, delivered, reason, None, make_up
        )
        for n, (week, day, delivered, reason, make_up) in enumerate(told)
    ]


def line(text: str = "2 x 30 min/week", first: dt.date = YEAR.first) -> LedgerLine:
    """A service line of the school year."""
    return one_line("L", read_frequency(text), first, YEAR.last)


@given(st.lists(WEEKS, max_size=4))
def test_students_ledgers_together_give_the_classs(several: list[Told]) -> None:
    """Minutes are neither lost nor gained when students' figures are added."""
    as_of = MONDAY + dt.timedelta(days=27)
    ledgers = [build_ledger(line(), CALENDAR, RULES, sessions(told, n), as_of) for n, told in enumerate(several)]
    together = figures_together(figures_of(one) for one in ledgers)
    every = [one for n, told in enumerate(several) for one in sessions(told, n) if not one.makes_up]
    assert together.owed == len(several) * figures_of(build_ledger(line(), CALENDAR, RULES, [], as_of)).owed
    assert together.delivered == sum(one.delivered or 0 for one in every)
    assert together.missed_minutes == sum(one.missed for one in every)
    assert together.unlogged == sum(one.minutes for one in every if one.delivered is None)
    periods = [period for one in ledgers for period in one.periods]
    assert together.behind == sum(
        max(one.due - one.delivered - one.made_up - one.not_owed - one.undecided, 0) for one in periods
    )
    above = sum(max(one.delivered - one.owed, 0) for one in periods)
    assert together.ahead == above + sum(one.spare_make_up for one in ledgers)


MINUTES = st.integers(0, 500)
FIGURES = st.builds(
    MinuteFigures,
    *[MINUTES] * 11,
    missed=st.dictionaries(st.sampled_from(["testing", "no_space", "other"]), st.integers(1, 90)),
)


@given(FIGURES, FIGURES)
def test_each_figure_is_added_by_itself(one: MinuteFigures, other: MinuteFigures) -> None:
    """None is left out, and none goes to another."""
    both = one + other
    for field in fields(MinuteFigures):
        if field.name != "missed":
            assert getattr(both, field.name) == getattr(one, field.name) + getattr(other, field.name)
    for reason in ("testing", "no_space", "other"):
        assert both.missed.get(reason, 0) == one.missed.get(reason, 0) + other.missed.get(reason, 0)
    assert both.missed_minutes == one.missed_minutes + other.missed_minutes


def test_the_figures_of_a_ledger_are_sums_over_its_periods() -> None:
    """Three weeks in which every figure has something to say; minutes made up beyond all shortfalls are ahead."""
    effects = {"testing": Effect.NOT_OWED, "other": Effect.TEAM}
    days = [MONDAY + dt.timedelta(days=7 * week) for week in range(4)]
    records = [
        SessionRecord("a", days[0], 30, 120),
        SessionRecord("b", days[1], 20, 0, "testing"),
        SessionRecord("c", days[1], 15, 5, "other"),
        SessionRecord("d", days[2], 25),
        SessionRecord("m", days[1], 200, 10, makes_up=True),
    ]
    one = changed(line(), first=MONDAY, last=days[3])
    rules = LedgerRules(effects=effects, carry_ahead=True)
    ledger = build_ledger(one, CALENDAR, rules, records, days[2] + dt.timedelta(days=6))
    found, periods = figures_of(ledger), ledger.periods
    assert len(periods) == 3
    assert found.owed == sum(each.due for each in periods) == 180
    assert found.delivered == sum(each.delivered for each in periods) == 125
    assert (found.made_up, found.carried) == (10, sum(each.carried for each in periods))
    assert found.carried > 0
    assert (found.not_owed, found.undecided, found.unlogged) == (20, 10, 25)
    assert found.missed == {"testing": 20, "other": 10}
    assert found.behind == sum(each.still_owed for each in periods) > 0
    assert found.ahead == sum(each.ahead for each in periods) == 0
    kept = build_ledger(one, CALENDAR, LedgerRules(effects=effects), records, days[2] + dt.timedelta(days=6))
    assert figures_of(kept).ahead == sum(each.ahead for each in kept.periods) == 120 - 60
    spare = [SessionRecord("m", days[0], 600, 600, makes_up=True)]
    rich = build_ledger(one, CALENDAR, LedgerRules(), spare, days[2] + dt.timedelta(days=6))
    assert figures_of(rich).ahead == rich.spare_make_up == 600 - 180


def test_nothing_added_to_nothing() -> None:
    """The neutral figure."""
    assert figures_together([]) == MinuteFigures()


def test_turns_of_weeks_are_counted_from_the_lines_own_first_week() -> None:
    """ "3 out of 4 weeks" (a phrase of published plans): counting later doesn't move the turns."""
    one = line("3 of 4 weeks, 30 min")
    later = changed(one, first=dt.date(2026, 9, 21), anchor=one.first)
    as_of = dt.date(2026, 10, 4)
    whole = build_ledger(one, CALENDAR, LedgerRules(), [], as_of)
    part = build_ledger(later, CALENDAR, LedgerRules(), [], as_of)
    assert [period.span for period in part.periods] == [period.span for period in whole.periods]
    # Two of the turn's four weeks, ten of twenty weekdays, of 90 minutes (computed).
    assert (whole.total("owed"), part.total("owed")) == (90, 45)


def test_a_total_count_is_shared_over_the_whole_service() -> None:
    """What lay before the counting is not owed again."""
    one = one_line("L", read_frequency("20 x 30 min in all"), dt.date(2026, 9, 7), dt.date(2026, 10, 16))
    later = changed(one, first=dt.date(2026, 9, 28), anchor=one.first)
    as_of = dt.date(2026, 10, 16)
    # Three of six weeks of 600 minutes (computed).
    assert build_ledger(one, CALENDAR, LedgerRules(), [], as_of).total("owed") == 600
    assert build_ledger(later, CALENDAR, LedgerRules(), [], as_of).total("owed") == 300


def test_the_reasoning_names_the_districts_words() -> None:
    """Not a code, where the district has words for it."""
    rules = LedgerRules(effects={"trip": Effect.OWED}, words={"trip": "assembly or trip"})
    record = SessionRecord("a", MONDAY, 30, 0, "trip")
    ledger = build_ledger(line(), CALENDAR, rules, [record], MONDAY)
    assert "30 minutes missed: assembly or trip." in ledger.periods[-1].reasoning


def test_the_shipped_table_says_what_it_is_not() -> None:
    """Common practice, no source; every effect is among the defaults, so that each is seen at work."""
    assert "not law" in COMMON_PRACTICE
    assert {one.effect for one in DEFAULT_REASONS} == set(Effect)
