"""The outlook on the edges of its dates: what is ahead, what is needed, what repeats. Sums by hand."""

import datetime as dt
from dataclasses import replace

import pytest

from caseload.ledger.forecast import Forecast
from caseload.ledger.ledger import build_ledger
from caseload.ledger.outlook import Outlook, history_of, needed_until, outlook, sessions_ahead
from caseload.ledger.rates import Chance, RateBelief, SessionHistory
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerRules,
    SessionRecord,
    ShortWeek,
    Span,
)
from caseload.plans.frequency import read_frequency
from tests.caseload.ledger_lines import changed, one_line

MONDAY = dt.date(2026, 9, 14)
RULES = LedgerRules(effects={"trip": Effect.OWED, "ill": Effect.NOT_OWED})


def day(offset: int) -> dt.date:
    """A date counted from the first Monday."""
    return MONDAY + dt.timedelta(days=offset)


SCHOOL = LedgerCalendar(
    Span("2026-27", MONDAY, day(200)), frozenset(day(n) for n in range(200) if day(n).weekday() < 5)
)


def held(offset: int, delivered: int | None = None, reason: str = "", minutes: int = 30) -> SessionRecord:
    """A session, by default waiting for its log."""
    return SessionRecord(f"s{offset}-{minutes}", day(offset), minutes, delivered, reason)


def make_up(offset: int, delivered: int | None = None, minutes: int = 30) -> SessionRecord:
    """A make-up."""
    return SessionRecord(f"m{offset}", day(offset), minutes, delivered, makes_up=True)


def ledger_of(
    text: str, sessions: list[SessionRecord], as_of: int = 6, first: int = 0, last: int = 27, **rules: object
) -> Ledger:
    """The ledger of a line of four weeks at the end of the first."""
    one = one_line("1", read_frequency(text), day(first), day(last))
    return build_ledger(one, SCHOOL, replace(RULES, **rules), sessions, day(as_of))  # type: ignore[arg-type]


def ahead(
    ledger: Ledger, sessions: list[SessionRecord], published: set[dt.date], until: int = 27
) -> list[tuple[int, int]]:
    """What is ahead, as days counted from the first Monday and minutes."""
    found = sessions_ahead(ledger, SCHOOL, sessions, published, day(until), 30)
    assert len({one.id for one in found}) == len(found)
    return [((one.day - MONDAY).days, one.minutes) for one in found]


# ---- sessions ahead --------------------------------------------------------------------------------------


def test_what_waits_for_its_log_is_ahead_until_the_date() -> None:
    """The date's own session included, the next day's not, and what is logged no more."""
    sessions = [held(0, 30), held(4), held(13), held(14)]
    ledger = ledger_of("2 x 30 min/week", sessions)
    assert ahead(ledger, sessions, set(), until=13) == [(4, 30), (13, 30)]


def test_without_a_published_week_nothing_repeats() -> None:
    """Nobody has planned anything yet."""
    for text in ("2 x 30 min/week", "90 min/month"):
        assert ahead(ledger_of(text, []), [], set()) == []
    assert ahead(ledger_of("2 x 30 min/week", []), [], {MONDAY}) == []


def test_the_pattern_is_that_of_the_fullest_week() -> None:
    """The second week has a Tuesday of 45 and a Thursday of 15; the first only a Monday. Two a day stay two."""
    sessions = [held(0, 30), held(8, 45, minutes=45), held(10, 15, minutes=15), held(10, 20, minutes=20)]
    ledger = ledger_of("2 x 30 min/week", sessions, as_of=13)
    published = {MONDAY, day(7)}
    assert ahead(ledger, sessions, published) == [
        (15, 45), (17, 15), (17, 20), (22, 45), (24, 15), (24, 20),
    ]  # fmt: skip


def test_of_two_weeks_as_full_the_later_repeats() -> None:
    """A session that moved from Monday to Wednesday stays moved."""
    sessions = [held(0, 30), held(9, 30)]
    ledger = ledger_of("1 x 30 min/week", sessions, as_of=13)
    assert ahead(ledger, sessions, {MONDAY, day(7)}) == [(16, 30), (23, 30)]


def test_only_the_four_latest_published_weeks_make_the_pattern() -> None:
    """The fullest of all lies five weeks back and counts no more; four weeks back it would."""
    full = [held(0, 30), held(1, 30), held(2, 30)]
    later = [held(7 * week, 30) for week in range(1, 5)]
    sessions = [*full, *later]
    ledger = ledger_of("1 x 30 min/week", sessions, as_of=34, last=41)
    weeks = [day(7 * week) for week in range(5)]
    assert ahead(ledger, sessions, set(weeks), until=41) == [(35, 30)]
    assert ahead(ledger, sessions[:-1], set(weeks[:-1]), until=41) == [(35, 30), (36, 30), (37, 30)]


def test_make_ups_and_empty_sessions_are_no_pattern() -> None:
    """Neither comes again every week; one of a single minute does."""
    sessions = [held(0, 30), make_up(1, 30), held(2, 0, minutes=0), held(3, 1, minutes=1)]
    ledger = ledger_of("1 x 30 min/week", sessions, last=20)
    assert ahead(ledger, sessions, {MONDAY}) == [(7, 30), (10, 1), (14, 30), (17, 1)]


def test_weeks_that_are_published_hold_what_they_hold() -> None:
    """The third is published and empty: nothing is added to it."""
    sessions = [held(0, 30)]
    ledger = ledger_of("1 x 30 min/week", sessions)
    assert ahead(ledger, sessions, {MONDAY, day(14)}) == [(7, 30), (21, 30)]


def test_the_pattern_begins_tomorrow_and_ends_with_the_line_or_the_date() -> None:
    """A Monday pattern, seen on a Monday: not today, and on the last day of the line and of the date."""
    sessions = [held(0, 30)]
    for as_of, last, until, days in ((6, 21, 99, [7, 14, 21]), (7, 99, 21, [14, 21]), (6, 20, 99, [7, 14])):
        ledger = ledger_of("1 x 30 min/week", sessions, as_of=as_of, last=last)
        assert ahead(ledger, sessions, {MONDAY}, until=until) == [(one, 30) for one in days]
    begins = ledger_of("1 x 30 min/week", [], as_of=6, first=14)
    assert ahead(begins, sessions, {MONDAY}) == [(14, 30), (21, 30)]


def test_by_the_period_its_minutes_are_cut_into_usual_sessions() -> None:
    """70 minutes a month less 30 held are two sessions of 30 on the first free days; the part counts as one."""
    whole = one_line("1", read_frequency("70 min/month"), dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    first = SessionRecord("s", dt.date(2026, 10, 1), 30)
    ledger = build_ledger(whole, SCHOOL, RULES, [], dt.date(2026, 9, 30))
    found = sessions_ahead(ledger, SCHOOL, [first], {dt.date(2026, 9, 28)}, whole.last, 30)
    assert [one.day for one in found] == [dt.date(2026, 10, 1), dt.date(2026, 10, 5), dt.date(2026, 10, 6)]


def october(
    text: str,
    sessions: list[SessionRecord],
    until: dt.date,
    as_of: dt.date = dt.date(2026, 9, 30),
    **dates: dt.date,
) -> list[dt.date]:
    """Days on which sessions of a line of October are to come, the week of 28 September being published."""
    line = one_line("1", read_frequency(text), dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    ledger = build_ledger(changed(line, **dates), SCHOOL, RULES, [], as_of)
    found = sessions_ahead(ledger, SCHOOL, sessions, {dt.date(2026, 9, 28)}, until, 30)
    assert all(one.minutes == 30 for one in found)
    return [one.day for one in found]


def test_by_the_period_sessions_stand_on_free_days_only() -> None:
    """From tomorrow on, in session, in no published week, until the date and the line end."""
    end = dt.date(2026, 10, 31)
    assert october("120 min/month", [], end)[:2] == [dt.date(2026, 10, 5), dt.date(2026, 10, 6)]
    assert october("120 min/month", [], end, as_of=dt.date(2026, 10, 5))[0] == dt.date(2026, 10, 6)
    assert len(october("120 min/month", [], end)) == 4
    # Seven of 22 weekdays until the 9th: 120 x 7 / 22 = 38 minutes, two sessions.
    assert october("120 min/month", [], dt.date(2026, 10, 9)) == [dt.date(2026, 10, 5), dt.date(2026, 10, 6)]
    # 2000 minutes would be 67 sessions; from the 5th on there are twenty weekdays, the 30th the last.
    assert len(october("2000 min/month", [], end)) == 20
    assert october("2000 min/month", [], end)[-1] == dt.date(2026, 10, 30)
    to_the_day = october("2000 min/month", [], dt.date(2026, 10, 14))
    assert (to_the_day[-1], len(to_the_day)) == (dt.date(2026, 10, 14), 8)
    ends = october("2000 min/month", [], end, last=dt.date(2026, 10, 7))
    assert ends == [dt.date(2026, 10, day) for day in (5, 6, 7)]
    begins = october("2000 min/month", [], end, first=dt.date(2026, 10, 29))
    assert begins == [dt.date(2026, 10, 29), dt.date(2026, 10, 30)]


def test_by_the_period_what_is_held_already_is_not_placed_again() -> None:
    """Make-ups apart, which answer for other minutes; more than is owed takes nothing away."""
    end = dt.date(2026, 10, 31)
    sixty = [SessionRecord("a", dt.date(2026, 10, 1), 60, 60)]
    assert len(october("120 min/month", sixty, end)) == 2
    up = [SessionRecord("m", dt.date(2026, 10, 1), 60, 60, makes_up=True)]
    assert len(october("120 min/month", up, end)) == 4
    plenty = [SessionRecord("a", dt.date(2026, 10, 1), 300, 300)]
    assert october("120 min/month", plenty, end) == []
    other_month = [SessionRecord("a", dt.date(2026, 9, 30), 60, 60)]
    assert len(october("120 min/month", other_month, end)) == 4


def test_turns_of_weeks_are_placed_by_their_turn() -> None:
    """Three of four weeks of 30 minutes: 90 in the turn, of which 30 are held; two sessions, on two days."""
    sessions = [held(0, 30)]
    ledger = ledger_of("3 of 4 weeks, 30 min", sessions)
    assert ahead(ledger, sessions, {MONDAY}) == [(7, 30), (8, 30)]


# ---- needed ----------------------------------------------------------------------------------------------


def test_spare_make_ups_answer_for_what_comes() -> None:
    """60 a week for four weeks, 30 delivered, 45 made up: 30 fill the first week, 15 the next. 165 are left."""
    sessions = [held(0, 30), make_up(1, 45)]
    ledger = ledger_of("2 x 30 min/week", sessions)
    assert needed_until(ledger, SCHOOL, RULES, day(27)) == 180 - 15
    much = ledger_of("2 x 30 min/week", [held(0, 30), make_up(1, 400, 400)])
    assert needed_until(much, SCHOOL, RULES, day(27)) == 0


def test_everything_that_answers_a_period_is_needed_no_more() -> None:
    """30 not owed, 20 waiting for the team, and in the next week 25 carried over from 85 where 60 were owed."""
    sessions = [held(0, 0, "ill"), held(1, 0, "unheard of", minutes=20)]
    assert needed_until(ledger_of("2 x 30 min/week", sessions), SCHOOL, RULES, day(6)) == 10
    carried = [held(0, 85, minutes=30), held(7, 5, "trip")]
    ledger = ledger_of("2 x 30 min/week", carried, as_of=13, carry_ahead=True)
    assert needed_until(ledger, SCHOOL, RULES, day(13)) == 30


def test_minutes_ahead_in_one_week_do_not_answer_for_another() -> None:
    """85 in the first week leave 60 for the second."""
    ledger = ledger_of("2 x 30 min/week", [held(0, 85)])
    assert needed_until(ledger, SCHOOL, RULES, day(13)) == 60


def test_needed_is_the_lines_share_until_the_date() -> None:
    """60 minutes of which three of five weekdays count are 36; beyond the line's end nothing is owed."""
    ledger = ledger_of("2 x 30 min/week", [], as_of=-1)
    assert needed_until(ledger, SCHOOL, RULES, day(2)) == 36
    assert needed_until(ledger, SCHOOL, RULES, day(99)) == 240


def test_as_scheduled_needs_what_is_planned_or_ahead_in_weeks_that_a_closing_made_short() -> None:
    """The larger of the two, make-ups apart, and one session at the least; full weeks need all that they owe."""
    rules = replace(RULES, short_week=ShortWeek.AS_SCHEDULED)
    short = replace(SCHOOL, in_session=frozenset(one for one in SCHOOL.in_session if one.weekday() != 4))
    ledger = ledger_of("2 x 30 min/week", [held(0)], as_of=6, short_week=ShortWeek.AS_SCHEDULED)
    assert needed_until(ledger, SCHOOL, rules, day(27)) == 4 * 60
    assert needed_until(ledger, short, rules, day(27)) == 4 * 30
    coming = [held(1, minutes=45), held(7, minutes=20), make_up(8), held(28)]
    assert needed_until(ledger, short, rules, day(27), coming) == 45 + 3 * 30
    assert needed_until(ledger, short, rules, day(27), [held(1, minutes=10)]) == 4 * 30


# ---- together --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("delivered", "missed"), [(15, 0), (14, 1), (0, 1), (30, 0)])
def test_missed_is_more_than_half(delivered: int, missed: int) -> None:
    """Of thirty minutes for a trip; half is held."""
    assert history_of([held(0, delivered, "trip")], RULES) == SessionHistory((bool(missed),))


def test_a_session_of_no_minutes_is_no_history() -> None:
    """Nor does it hide the sessions after it."""
    assert history_of([held(0, 0, minutes=0), held(1), held(2, 0, "trip")], RULES) == SessionHistory((True,))


def seen(needed: int, planned: int, ends_short: float) -> Outlook:
    """An outlook with these figures."""
    return Outlook("end", MONDAY, Forecast(needed, planned, 0.1, 0.05, 0.2, ends_short, 0))


def test_doubt_is_a_gap_or_more_than_the_tolerated_chance() -> None:
    """A tenth is tolerated, common practice without a source; a minute that nothing is planned for isn't."""
    assert not seen(60, 60, 0.10).is_doubtful
    assert seen(60, 60, 0.11).is_doubtful
    assert seen(61, 60, 0.0).is_doubtful


def test_the_outlook_leaves_out_sessions_of_no_minutes() -> None:
    """An empty session waits beside one of thirty and one of a minute."""
    sessions = [held(0, 30), held(2, minutes=0), held(3, minutes=1), held(4)]
    ledger = ledger_of("2 x 30 min/week", sessions, last=6)
    found = outlook(
        name="the end",
        until=day(6),
        ledger=ledger,
        calendar=SCHOOL,
        rules=RULES,
        sessions=sessions,
        published={MONDAY},
        usual=30,
        belief=RateBelief((Chance(0.2, 0.0, 1.0),)),
    )
    assert (found.name, found.until) == ("the end", day(6))
    # 30 minutes needed, two sessions, missed at 0.2: the long one decides.
    assert (found.forecast.needed, found.forecast.planned) == (30, 31)
    assert found.forecast.rate == pytest.approx(0.2)
    assert found.forecast.ends_short == pytest.approx(0.2)
    assert found.forecast.reserve == 1
