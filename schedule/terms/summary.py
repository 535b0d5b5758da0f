"""What a term says of each of its weeks, as it is kept: figures and exceptions; ids and codes, no names. Pure."""

from collections.abc import Iterable, Mapping
from typing import Any

from schedule.planner.term.term import Departure, LaterTimetable, PlannedWeek, StandingSession
from schedule.terms.allotment.lines import LineMinutes
from schedule.terms.changing import Changed, Move
from schedule.terms.days import WeekKind
from schedule.terms.words import in_plain_words
from schedule.weeks.versions.content import WeekContent


def week_summary(planned: PlannedWeek, kind: WeekKind, *, regular: bool, content: WeekContent) -> dict[str, Any]:
    """One week. ``regular``: no day of it is unusual."""
    figures = content.figures or {}
    return {
        "monday": planned.id,
        "kind": kind.letter,
        "turn": kind.turn,
        "regular": regular,
        "expected": planned.expected,
        "open": planned.open,
        "kept": planned.kept,
        "drive_minutes": planned.figures.driving,
        "minutes_owed": figures.get("minutes_owed", 0),
        "minutes_placed": figures.get("minutes_placed", 0),
        "proved": planned.proved,
        "exceptions": [_exception(one) for one in planned.departures],
    }


def exception_words(one: Departure) -> str:
    """Why a session isn't where it always is, in a sentence with codes."""
    standing = one.standing
    return in_plain_words(one.words, standing.pattern_key, standing.at) if standing else one.words


def _exception(one: Departure) -> dict[str, Any]:
    standing, held = one.standing, one.session
    return {
        "unit": one.unit,
        "why": one.why.value,
        "words": exception_words(one),
        "usual": _spot(standing),
        "now": [held.day, held.at, held.place] if held else None,
    }


def way_summary(changed: Changed, names: Mapping[str, str]) -> dict[str, Any]:
    """One way to change a timetable; ``names`` of units with marked codes."""
    return {
        "way": changed.way.value,
        "drive_minutes": changed.drive_minutes,
        "unplaced": changed.unplaced,
        "proved": changed.proved,
        "moved": changed.moved,
        "fewest": changed.fewest,
        "ended": changed.ended.value,
        "once": changed.once,
        "since": changed.since,
        "moves": _moves(changed.moves, names),
    }


def later_summary(later: LaterTimetable, moves: Iterable[Move], names: Mapping[str, str]) -> dict[str, Any]:
    """A timetable that follows within the term, and what moves then."""
    return {"since": later.since, "proved": later.proved, "moves": _moves(moves, names)}


def _moves(moves: Iterable[Move], names: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "who": names.get(one.unit, one.unit),
            "before": _spot(one.before),
            "after": _spot(one.after),
            "begins": one.begins,
        }
        for one in moves
    ]


def _spot(one: StandingSession | None) -> list[Any] | None:
    return [one.pattern_key, one.at, one.place] if one else None


def minutes_summary(lines: Iterable[LineMinutes]) -> list[dict[str, Any]]:
    """What each service owes, holds and keeps in reserve in each period of the term."""
    return [
        {
            "line": one.line,
            "who": one.who,
            "statement": one.statement,
            "period": one.period,
            "by_week": one.by_week,
            "owed": one.owed,
            "placed": one.placed,
            "reserve": one.reserve,
            "reserve_wanted": one.reserve_wanted,
            "words": list(one.words),
            "behind": one.behind,
        }
        for one in lines
    ]
