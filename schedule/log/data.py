"""What the API tells about a student's ledger: plain values, minutes and dates, no name."""

import datetime as dt
from dataclasses import dataclass

from caseload.delivery.rows import LineLedger, StudentLedger
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.figures import MinuteFigures
from caseload.ledger.terms import OpeningBalance, PeriodAccount


@dataclass(frozen=True, slots=True)
class PeriodView:
    """One period of a service, in minutes, with the sentences behind it; `missed` is by reason code."""

    name: str
    first: dt.date
    last: dt.date
    owed: int
    due: int
    scheduled: int
    delivered: int
    missed: dict[str, int]
    unlogged: int
    future: int
    extra: int
    not_owed: int
    undecided: int
    made_up: int
    carried: int
    carried_on: int
    rounding: int
    still_owed: int
    ahead: int
    reasoning: list[str]


@dataclass(frozen=True, slots=True)
class OpeningView:
    """What an earlier school year left open on its last day, and what of it is open now, in minutes.

    `year` is its name; of a plan that ended in the year asked for, "the plan until" its last day. `problem` says
    why a year's minutes can't be counted.
    """

    year: str
    last: dt.date
    opened: int
    open: int
    undecided: int
    problem: str


@dataclass(frozen=True, slots=True)
class FiguresView:
    """Figures up to the date, in minutes; `missed` is by reason code.

    `opening` is what earlier school years left open, apart from `behind`; `rounding` is too little for a session.
    """

    owed: int
    delivered: int
    made_up: int
    carried: int
    not_owed: int
    undecided: int
    unlogged: int
    behind: int
    ahead: int
    rounding: int
    opening: int
    missed: dict[str, int]


@dataclass(frozen=True, slots=True)
class ServiceView:
    """A service line with its figures, or the problem that keeps it from having any.

    `outside` are delivered minutes on days that no period of it holds: they count nowhere, and are not lost.
    """

    service_line: int
    statement: str
    consultation: bool
    provisional: bool
    counts_from: dt.date
    problem: str
    figures: FiguresView
    outside: int
    periods: list[PeriodView]
    openings: list[OpeningView]


@dataclass(frozen=True, slots=True)
class CompensatoryView:
    """Compensatory time that the team decided on: an account of its own, in minutes."""

    id: int
    minutes: int
    given: int
    left: int
    decided_by: str
    decided_on: dt.date
    until: dt.date


@dataclass(frozen=True, slots=True)
class LedgerView:
    """A student's ledger up to a date (included). `note`: whose judgment the figures are not."""

    student: int
    as_of: dt.date
    year: str
    direct: FiguresView
    consultation: FiguresView
    services: list[ServiceView]
    compensatory: list[CompensatoryView]
    note: str


def ledger_view(found: StudentLedger) -> LedgerView:
    """A ledger as plain values."""
    return LedgerView(
        student=found.student.pk,
        as_of=found.as_of,
        year=found.year.name if found.year is not None else "",
        direct=_figures(found.direct),
        consultation=_figures(found.consultation),
        services=[_service(one) for one in found.lines],
        compensatory=[
            CompensatoryView(one.id, one.minutes, one.given, one.left, one.decided_by, one.decided_on, one.until)
            for one in found.compensatory
        ],
        note=NO_JUDGMENT,
    )


def _figures(one: MinuteFigures) -> FiguresView:
    return FiguresView(
        one.owed,
        one.delivered,
        one.made_up,
        one.carried,
        one.not_owed,
        one.undecided,
        one.unlogged,
        one.behind,
        one.ahead,
        one.rounding,
        one.opening,
        dict(one.missed),
    )


def _service(one: LineLedger) -> ServiceView:
    return ServiceView(
        service_line=one.line.pk,
        statement=one.line.statement,
        consultation=one.is_consultation,
        provisional=one.line.plan.is_provisional,
        counts_from=one.counts_from,
        problem=one.problem,
        figures=_figures(one.figures),
        outside=sum(row.record.delivered or 0 for row in one.outside),
        periods=[_period(period) for period in one.ledger.periods] if one.ledger is not None else [],
        openings=[_opening(year) for year in one.ledger.openings] if one.ledger is not None else [],
    )


def _opening(one: OpeningBalance) -> OpeningView:
    return OpeningView(one.name, one.last, one.opened, one.open, one.undecided, one.problem)


def _period(one: PeriodAccount) -> PeriodView:
    return PeriodView(
        name=one.span.name,
        first=one.span.first,
        last=one.span.last,
        owed=one.owed,
        due=one.due,
        scheduled=one.scheduled,
        delivered=one.delivered,
        missed=dict(one.missed),
        unlogged=one.unlogged,
        future=one.future,
        extra=one.extra,
        not_owed=one.not_owed,
        undecided=one.undecided,
        made_up=one.made_up,
        carried=one.carried,
        carried_on=one.carried_on,
        rounding=one.rounding,
        still_owed=one.still_owed,
        ahead=one.ahead,
        reasoning=list(one.reasoning),
    )
