"""What a term keeps room for: sessions that will be missed by what the log says, and short weeks to make good.

How often a service is missed is believed from the log of all of the teacher's services (``caseload.ledger.rates``);
what a short week owes is the district's dated rule (``caseload.ledger.owed``).
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from accounts.models import Person
from caseload.delivery.rows import LineLedger, StudentLedger
from caseload.delivery.selectors.log import settings_of
from caseload.ledger.forecast import Forecast, forecast
from caseload.ledger.outlook import RESERVED_FOR, history_of
from caseload.ledger.owed import CountedPeriod, owed_in, periods_of
from caseload.ledger.rates import LearnedRates, RateBelief, SessionHistory
from caseload.ledger.terms import LedgerCalendar, LedgerError, Rules
from caseload.plans.frequency import FrequencyUnit
from schedule.log.selectors.ledger import ledgers_of
from schedule.planner.problem import Service
from schedule.terms.allotment.question import Share, ShareKind, WeekChance
from schedule.terms.allotment.reading import days_of, place_of
from schedule.terms.selectors.room import TermRoom
from schedule.weeks.planning.load import district_of_teacher, lines_of

MOST_IN_RESERVE = 40
"""Sessions of one period that room is kept for, at most: more is a question for the team, not for a timetable."""

LATER_PART = 0.5
"""Room for what is missed lies in this last part of a period's weeks: it is of no use before. Common practice."""


@dataclass(frozen=True, slots=True)
class KnownMinutes:
    """What the log says of a teacher's services, by line, and their ledgers; days in which a miss is made up."""

    beliefs: Mapping[int, RateBelief]
    anyone: RateBelief
    ledgers: Mapping[int, tuple[StudentLedger, LineLedger]]
    make_up_days: int

    def forecast(self, line: int, needed: int, sessions: Sequence[int], each: int) -> Forecast:
        """How a service is likely to end with these sessions; one without a log is believed as the others."""
        belief = self.beliefs.get(line, self.anyone)
        return forecast(
            needed=needed, sessions=sessions, belief=belief, make_up_minutes=each, tolerated=RESERVED_FOR
        )


def known_of(teacher: Person, first: dt.date, last: dt.date, today: dt.date) -> KnownMinutes:
    """The ledgers of the students whom the teacher serves between two dates, as they stand today."""
    district = district_of_teacher(teacher)
    students = {line.plan.student_id: line.plan.student for line in lines_of(teacher, first, last)}
    every = ledgers_of(district, list(students.values()), today) if students else ()
    own = [(student, one) for student in every for one in student.lines]
    past = [history_of((row.record for row in one.rows), student.rules) for student, one in own]
    learned = LearnedRates(past)
    beliefs: dict[int, RateBelief] = {}
    for (_, one), told in zip(own, past, strict=True):
        beliefs |= dict.fromkeys(one.line_ids, learned.belief(told))
    ledgers = {line: (student, one) for student, one in own for line in one.line_ids}
    return KnownMinutes(
        beliefs, learned.belief(SessionHistory()), ledgers, settings_of(district, today).make_up_days
    )


# ---- room for what will be missed ------------------------------------------------------------------------


def reserve_of(owed: Share, known: KnownMinutes) -> Share | None:
    """Room for so many sessions that the period is likely to end whole: in its later weeks, if it has several."""
    sessions = (owed.minutes,) * owed.count
    if not sessions or not owed.chances:
        return None
    asked = known.forecast(owed.line, owed.count * owed.minutes, sessions, owed.minutes).reserve
    count = MOST_IN_RESERVE if asked is None else min(asked, MOST_IN_RESERVE)
    later = owed.chances[int(len(owed.chances) * LATER_PART) :]
    chances = tuple(replace(one, least=0) for one in later)
    return replace(owed, kind=ShareKind.RESERVE, count=count, chances=chances) if count else None


def weekly_reserves(
    weeks: Mapping[dt.date, TermRoom], known: KnownMinutes, period: str
) -> Iterator[tuple[Share, int]]:
    """Room for what is to be expected missed of the services that owe by the week, and the sessions that these owe.

    All weeks together: what one service doesn't need another may use. Students who are taught together are missed
    together: a class has one reserve.
    """
    for unit in sorted({unit for week in weeks.values() for unit in week.riding}):
        held = [(week, service) for week in weeks.values() if (service := week.weekly(unit)) is not None]
        if held:
            line, owed = held[0][0].lines_in(unit)[0], sum(week.riding[unit] for week, _ in held)
            count = round(known.beliefs.get(line, known.anyone).mean * owed)
            chances = tuple(filter(None, (_chance(week, service, week.riding[unit]) for week, service in held)))
            yield Share(line, ShareKind.RESERVE, period, held[0][1].minutes, count, chances), owed


def _chance(week: TermRoom, service: Service, held: int) -> WeekChance | None:
    """A week with a day for more sessions of a service than it holds already; None where it has none."""
    place, most = place_of(service), days_of(service, week.dates) - held
    return WeekChance(week.loaded.monday, place, most, len(week.dates)) if place is not None and most > 0 else None


# ---- short weeks -----------------------------------------------------------------------------------------


def made_good(weeks: Mapping[dt.date, TermRoom], known: KnownMinutes, booked: Mapping[int, int]) -> Iterator[Share]:
    """Whole sessions that a short week owes by the district's rule and has no day for, in later weeks.

    ``booked``: make-ups by line that stay in these weeks; the first short weeks need no others.
    """
    for line in sorted({line for week in weeks.values() for line in week.unit_of}):
        student, one = known.ledgers.get(line, (None, None))
        if student is not None and one is not None and one.ledger is not None and one.calendar is not None:
            # The ledger's page says what is missing; without it nobody knows what a short week owes.
            with suppress(LedgerError):
                periods = [period for period in periods_of(one.ledger.line, one.calendar) if _is_weekly(period)]
                ruled = _Ruled(one.calendar, student.rules, known, booked.get(line, 0))
                yield from _of_line(line, periods, ruled, weeks)


@dataclass(frozen=True, slots=True)
class _Ruled:
    """The days that count for a service, the district's rules by date, and make-ups that it has already."""

    calendar: LedgerCalendar
    rules: Rules
    known: KnownMinutes
    booked: int


def _of_line(
    line: int,
    periods: Iterable[CountedPeriod],
    ruled: _Ruled,
    weeks: Mapping[dt.date, TermRoom],
) -> Iterator[Share]:
    booked = ruled.booked
    for period in periods:
        week = weeks.get(period.first)
        short = _short(week, line, period, ruled) if week is not None else 0
        count, booked = max(short - booked, 0), max(booked - short, 0)
        if week is not None and count:
            yield _good(week, line, count, weeks, ruled.known)


def _is_weekly(period: CountedPeriod) -> bool:
    return period.unit is FrequencyUnit.WEEK and period.terms[0].frequency.weeks_of is None


def _short(week: TermRoom, line: int, period: CountedPeriod, ruled: _Ruled) -> int:
    """Whole sessions that the week owes and can't hold."""
    service = week.service(line)
    if service is None or line not in week.loaded.lines:
        return 0
    each = week.loaded.lines[line].owed.minutes
    held = min(week.loaded.lines[line].owed.sessions, days_of(service, week.dates) if service.days_apart else 99)
    owed, _ = owed_in(period, ruled.calendar, ruled.rules, held * each)
    return max(owed - held * each, 0) // each


def _good(short: TermRoom, line: int, count: int, weeks: Mapping[dt.date, TermRoom], known: KnownMinutes) -> Share:
    """The later weeks with a day for it, within the days that the district gives for a make-up."""
    last = short.loaded.monday + dt.timedelta(days=known.make_up_days)
    each = short.loaded.lines[line].owed.minutes
    later = [week for monday, week in weeks.items() if short.loaded.monday < monday <= last]
    fits = ((week, service) for week in later if (service := week.service(line)) is not None)
    held = ((week, service, week.riding.get(week.unit_of[line], 0)) for week, service in fits)
    chances = tuple(filter(None, (_chance(*one) for one in held)))
    monday = short.loaded.monday
    return Share(line, ShareKind.MAKE_GOOD, f"the week of {monday:%B} {monday.day}", each, count, chances)
