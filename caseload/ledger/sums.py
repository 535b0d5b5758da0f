"""What the sessions of one period add up to. Pure, exact integer minutes."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from caseload.ledger.terms import Effect, LedgerCalendar, Rules, SessionRecord


@dataclass(frozen=True, slots=True)
class SessionSums:
    """Minutes of a period's sessions as known on a date; what is later is `future`, whatever its log says.

    `closed` are missed sessions of days that closed after they were planned: a closing has taken them out of the
    week, so they are neither in `placed` nor in `to_date`.
    """

    scheduled: int
    placed: int
    to_date: int
    delivered: int
    extra: int
    missed: Mapping[str, int]
    unlogged: int
    future: int
    not_owed: int
    undecided: int
    closed: tuple[SessionRecord, ...]


def sum_sessions(
    sessions: Sequence[SessionRecord], calendar: LedgerCalendar, rules: Rules, as_of: date
) -> SessionSums:
    """The sums of a period's sessions."""
    sessions = [_as_known(one, as_of) for one in sessions]
    known = [session for session in sessions if session.day <= as_of]
    logged = [session for session in known if session.delivered is not None]
    missed, effects = sum_missed(logged, rules)
    return SessionSums(
        scheduled=minutes_of(sessions),
        placed=minutes_of(_placed(sessions, calendar)),
        to_date=minutes_of(_placed(known, calendar)),
        delivered=delivered_by(logged),
        extra=_extra(logged),
        missed=missed,
        unlogged=minutes_of(known) - minutes_of(logged),
        future=minutes_of(sessions) - minutes_of(known),
        not_owed=effects[Effect.NOT_OWED],
        undecided=effects[Effect.TEAM],
        closed=tuple(_closed(logged, calendar)),
    )


def _as_known(session: SessionRecord, as_of: date) -> SessionRecord:
    """A session as it is known on a date: nobody has a log of what is later."""
    return session if session.day <= as_of else replace(session, delivered=None)


def _extra(sessions: Iterable[SessionRecord]) -> int:
    return sum(session.extra for session in sessions)


def _closed(sessions: Iterable[SessionRecord], calendar: LedgerCalendar) -> Iterable[SessionRecord]:
    """Missed sessions that a closing took."""
    return (session for session in sessions if session.missed and not _is_placed(session, calendar))


def minutes_of(sessions: Iterable[SessionRecord]) -> int:
    """Planned minutes together."""
    return sum(session.minutes for session in sessions)


def delivered_by(sessions: Iterable[SessionRecord]) -> int:
    """Delivered minutes together."""
    return sum(session.delivered or 0 for session in sessions)


def sum_missed(sessions: Iterable[SessionRecord], rules: Rules) -> tuple[dict[str, int], Mapping[Effect, int]]:
    """Missed minutes by reason, and by what they do."""
    missed: dict[str, int] = defaultdict(int)
    effects: dict[Effect, int] = defaultdict(int)
    for session in sessions:
        if session.missed:
            missed[session.reason] += session.missed
            effects[session.effect(rules)] += session.missed
    return dict(missed), effects


def _placed(sessions: Iterable[SessionRecord], calendar: LedgerCalendar) -> Iterable[SessionRecord]:
    return (session for session in sessions if _is_placed(session, calendar))


def _is_placed(session: SessionRecord, calendar: LedgerCalendar) -> bool:
    """Whether it stood on a day with school, or was held all the same."""
    return session.day in calendar.in_session or bool(session.delivered)
