"""What a planned day is once calendar and log have had their say: what takes place, where one drives, what is off.

Pure, and the only place where this is decided: day sheet, week page, prints, feeds, mileage and the API ask here.
Times are minutes after local midnight, buildings are known by their keys.

A school that is closed isn't driven to, nor one without students, unless it is a base or somebody meets there; nor
one of which the log says that nobody was taught in any of its sessions; nor one for sessions that all begin after
its early dismissal, though it may have been driven to earlier that day. A base alone isn't driven to either. Drives
that led to such a school are off, and what lies on both sides of it is joined by a straight drive.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, groupby, pairwise
from typing import Any

from schedule.calendar.closed_days import Closing
from schedule.calendar.happened import Became, HappeningKind
from schedule.weeks.day_truth import (
    DRIVE,
    MEETING,
    SESSION,
    Off,
    Part,
    Short,
    Standing,
    Why,
    off_words,
    session_off,
    session_short,
)

MOST_NAMED = 2

type Ends = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Straight:
    """A drive past what is left out: from when one can leave, and when one is due, as planned."""

    origin: int
    building: int
    earliest: int
    due: int


@dataclass(frozen=True, slots=True)
class DayShape:
    """A date. `off`: by the place of a part in the day's sequence. `stops`: buildings driven to, in order.

    `left_out`: buildings that were planned and aren't driven to. What is held there all the same (a lunch on a day
    that goes on elsewhere) is `elsewhere`.

    Of sessions: `short`, what is left of those that aren't held as long as planned; `untaught`, those of which the
    log says that nobody was taught; `without`, students who are absent from those that go on; `otherwise`, what
    some are held in spite of.
    """

    off: Mapping[int, Off]
    elsewhere: Mapping[int, Off]
    stops: tuple[int, ...]
    left_out: Mapping[int, Off]
    straight: tuple[Straight, ...]
    is_off: bool
    """Whether something was planned, and no session of it takes place and nobody drives anywhere."""
    short: Mapping[int, Short] = field(default_factory=dict)
    untaught: frozenset[int] = frozenset()
    without: Mapping[int, frozenset[int]] = field(default_factory=dict)
    otherwise: Mapping[int, frozenset[HappeningKind]] = field(default_factory=dict)


def shape_day(parts: Sequence[Part], standing: Standing) -> DayShape:
    """What a date's parts (in any order) come to."""
    order = sorted(range(len(parts)), key=lambda at: (parts[at].start, parts[at].end))
    parts = _set_apart(parts, order, standing)
    stops, left_out = _visited([parts[at] for at in order], standing)
    drives = _drives_of(parts, order)
    off = {at: one for at in order if (one := _off(parts[at], standing, stops, left_out)) is not None}
    off |= _drives_off(parts, drives, stops, left_out)
    elsewhere = {at: one for at, one in _elsewhere(parts, left_out) if at not in off}
    straight = tuple(_straight([parts[at] for at in drives], stops)) if left_out else ()
    is_off = bool(off) and not stops and not _is_held(parts, off)
    shape = DayShape(off, elsewhere, stops, _never_driven_to(left_out, stops), straight, is_off=is_off)
    return replace(shape, **_sessions_left(parts, off, standing))


def _sessions_left(parts: Sequence[Part], off: Collection[int], standing: Standing) -> dict[str, Any]:
    """What becomes of the sessions that take place, and which were held for nobody."""
    held = {at: part for at, part in enumerate(parts) if part.kind == SESSION and at not in off}
    became = {at: standing.became[part.key] for at, part in held.items() if part.key in standing.became}
    return {
        "short": _shorts(held, standing),
        "untaught": frozenset(at for at, part in held.items() if part.key in standing.untaught),
        **_otherwise(became),
    }


def _shorts(held: Mapping[int, Part], standing: Standing) -> dict[int, Short]:
    shorts = {at: session_short(part, standing) for at, part in held.items()}
    return {at: short for at, short in shorts.items() if short is not None}


def _otherwise(became: Mapping[int, Became]) -> dict[str, Any]:
    return {
        "without": {at: one.without for at, one in became.items() if one.without},
        "otherwise": {at: one.otherwise for at, one in became.items() if one.otherwise},
    }


def _never_driven_to(left_out: Mapping[int, Off], stops: Collection[int]) -> dict[int, Off]:
    """Buildings that are left out all day; those of visits in vain by their own keys."""
    return {abs(building): one for building, one in left_out.items() if abs(building) not in stops}


def _is_held(parts: Sequence[Part], off: Collection[int]) -> bool:
    """Whether any session takes place."""
    return any(part.kind == SESSION and at not in off for at, part in enumerate(parts))


def _drives_of(parts: Sequence[Part], order: Iterable[int]) -> list[int]:
    return [at for at in order if parts[at].kind == DRIVE and parts[at].origin is not None]


def _elsewhere(parts: Sequence[Part], left_out: Mapping[int, Off]) -> Iterator[tuple[int, Off]]:
    """What isn't a session or a drive, and was planned at a building that is left out."""
    for at, part in enumerate(parts):
        if part.kind not in {SESSION, DRIVE} and part.building is not None and part.building in left_out:
            yield at, left_out[part.building]


def day_off_words(shape: DayShape, names: Mapping[int, str]) -> str:
    """Why no session of a day takes place and nobody drives, as a sentence; empty if somebody does."""
    if not shape.is_off:
        return ""
    reasons = sorted({off_words(one, names) for one in shape.left_out.values()})
    if len(reasons) > MOST_NAMED:
        return "No session takes place: the schools of this day have no students."
    return f"No session takes place: {' and '.join(reasons)}."


# ---- visits in vain ---------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Visit:
    """One stay at a building: the places of what is held there, of the drive to it and of the one away from it."""

    building: int
    held: list[int] = field(default_factory=list)
    arriving: int | None = None
    leaving: int | None = None


def _visits(parts: Sequence[Part], order: Iterable[int]) -> list[_Visit]:
    visits = [_Visit(0)]
    for at in order:
        part = parts[at]
        if part.kind == DRIVE and part.origin is not None:
            if visits[-1].building == part.origin:
                visits[-1].leaving = at
            visits.append(_Visit(part.building or 0, arriving=at))
        elif part.building is not None:
            if visits[-1].building != part.building:
                visits.append(_Visit(part.building))
            visits[-1].held.append(at)
    return visits


def _is_in_vain(visit: _Visit, parts: Sequence[Part], standing: Standing) -> bool:
    """Whether nothing that a stay is for takes place: the students have gone home, or the teacher is away."""
    waits = [parts[at] for at in visit.held if parts[at].kind in {SESSION, MEETING}]
    return (
        bool(waits)
        and visit.building not in standing.bases
        and visit.building not in standing.closings
        and all(map(standing.is_in_vain, waits))
    )


def _set_apart(parts: Sequence[Part], order: Sequence[int], standing: Standing) -> Sequence[Part]:
    """The parts with each visit in vain at a place of its own, below 0, so that an earlier one stays."""
    if not standing.cuts and not any(one.students_from in standing.closings for one in parts):
        return parts
    found = list(parts)
    for visit in _visits(parts, order):
        if _is_in_vain(visit, parts, standing):
            for at in (visit.arriving, *visit.held):
                if at is not None:
                    found[at] = replace(found[at], building=-visit.building)
            if visit.leaving is not None:
                found[visit.leaving] = replace(found[visit.leaving], origin=-visit.building)
    return found


# ---- what is driven to -----------------------------------------------------------------------------------


def buildings_of(part: Part) -> Iterator[int]:
    """The buildings at which a part finds the teacher; of a drive, where it starts and where it ends."""
    if part.kind == DRIVE and part.origin is not None:
        yield part.origin
    if part.building is not None:
        yield part.building


def _visited(parts: Sequence[Part], standing: Standing) -> tuple[tuple[int, ...], Mapping[int, Off]]:
    """Buildings driven to in their order, and those that were planned and are left out."""
    stops = _without_repeats(chain.from_iterable(map(buildings_of, parts)))
    left_out = _all_left_out(parts, stops, standing)
    kept = [one for one in stops if one not in left_out]
    if left_out and not _meets(parts) and standing.bases.issuperset(kept):
        kept = []  # nobody drives to the base alone on a day without classes
    return tuple(_without_repeats(kept)), left_out


def _all_left_out(parts: Sequence[Part], stops: Iterable[int], standing: Standing) -> dict[int, Off]:
    """Buildings to which nobody drives; where somebody was taught by the log, somebody did."""
    there = _held_at(parts)
    held = {building for building, day in there.items() if any(one.key in standing.taught for one in day)}
    outs = {one: _left_out(one, there.get(one, []), standing) for one in stops if one not in held}
    return {building: off for building, off in outs.items() if off is not None}


def _meets(parts: Iterable[Part]) -> bool:
    """Whether there is a meeting at any building."""
    return any(part.kind == MEETING and part.building is not None for part in parts)


def _held_at(parts: Iterable[Part]) -> dict[int, list[Part]]:
    """Sessions and meetings by their building."""
    there: dict[int, list[Part]] = {}
    for part in parts:
        if part.kind in {SESSION, MEETING} and part.building is not None:
            there.setdefault(part.building, []).append(part)
    return there


def _without_repeats(stops: Iterable[int]) -> list[int]:
    """A building once as long as nothing else lies between."""
    return [building for building, _ in groupby(stops)]


def _left_out(building: int, held: Sequence[Part], standing: Standing) -> Off | None:
    """Why nobody drives there, None if somebody does."""
    closing = standing.closings.get(building)
    if standing.teacher_left or standing.away_all_day:
        return Off(Why.TEACHER_LEFT if standing.teacher_left else Why.AWAY, abs(building))
    if building < 0:
        return _off_in_vain(building, held, standing)
    if closing is Closing.CLOSED:
        return Off(Why.CLOSED, building)
    if building in standing.bases or any(part.kind == MEETING for part in held):
        return None
    if closing is Closing.NO_STUDENTS:
        return Off(Why.NO_STUDENTS, building)
    return _nobody_there(building, held, standing)


def _off_in_vain(building: int, held: Iterable[Part], standing: Standing) -> Off:
    """Why a stay is for nothing: by its first session, or because the teacher is away from its meeting."""
    offs = (session_off(part, standing) for part in held if part.kind == SESSION)
    return next((off for off in offs if off is not None), Off(Why.AWAY, -building))


def _nobody_there(building: int, held: Iterable[Part], standing: Standing) -> Off | None:
    """Why each session there has nobody in it: students have left, or the log says so. Not where there is none."""
    keys = {part.key for part in held if part.kind == SESSION}
    if not keys or keys - standing.untaught - standing.left - standing.handed_over:
        return None
    if keys <= standing.handed_over:
        return Off(Why.HANDED_OVER, building)
    return Off(Why.STUDENTS_LEFT if keys <= standing.left | standing.handed_over else Why.UNTAUGHT, building)


def _off(part: Part, standing: Standing, stops: Sequence[int], left_out: Mapping[int, Off]) -> Off | None:
    """Why a session, a lunch or a preparation doesn't take place, or a meeting without the teacher who has left.

    Drives are decided together.
    """
    if part.kind == SESSION:
        return session_off(part, standing)
    away = _off_by_absence(part, standing)
    if away is not None or part.kind in {DRIVE, MEETING} or stops or not left_out:
        return away
    return left_out.get(part.building or 0) or next(iter(left_out.values()))


def _off_by_absence(part: Part, standing: Standing) -> Off | None:
    """Why what isn't a session is off because the teacher has left, or is away just then."""
    if part.kind == MEETING and standing.teacher_left:
        return Off(Why.TEACHER_LEFT, part.building)
    if part.kind != DRIVE and standing.is_away_from(part):
        return Off(Why.AWAY, abs(part.building or 0) or None)
    return None


# ---- drives ----------------------------------------------------------------------------------------------


def _ends(part: Part) -> Ends:
    return part.origin or 0, part.building or 0


def _drives_off(
    parts: Sequence[Part], drives: Sequence[int], stops: Sequence[int], left_out: Mapping[int, Off]
) -> dict[int, Off]:
    """Drives that lead to what is left out, or away from it."""
    driven = Counter(pairwise(stops))
    found: dict[int, Off] = {}
    for at in drives if left_out else ():
        ends = _ends(parts[at])
        if driven[ends] > 0:
            driven[ends] -= 1
            continue
        # Where neither end is left out, nothing is left to drive for: only the base would be.
        found[at] = next((left_out[one] for one in (*ends[::-1], *left_out) if one in left_out), _NOTHING)
    return found


_NOTHING = Off(Why.NOTHING, None)


def _straight(drives: Sequence[Part], stops: Sequence[int]) -> Iterator[Straight]:
    """Drives that join what lies on both sides of a building that is left out."""
    missing = Counter(pairwise(stops))
    missing.subtract(_ends(part) for part in drives)
    for ends in dict.fromkeys(pairwise(stops)):
        between = _between(drives, ends) if missing[ends] > 0 else None
        if between is not None:
            yield Straight(*ends, *between)


def _between(drives: Sequence[Part], ends: Ends) -> tuple[int, int] | None:
    """From when one can leave the first of two buildings, and when one is due in the second, as planned."""
    for number, first in enumerate(drives):
        if first.origin == ends[0]:
            last = next((one for one in drives[number + 1 :] if one.building == ends[1]), None)
            if last is not None:
                return first.start, last.end
    return None
