"""A timetable with rotating days: patterns tried one after the other, what stands on weekdays chosen for each.

For a given pattern of the rotating sessions the rest is one linear problem over whole positions (``master``), tight
and solved in a second or so. All patterns at once would leave nothing of that bound (pattern variables spread over
all days), so the pattern is searched: the columns that served the best ones are priced anew for another, and only
where that comes near are more columns made.
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.problem import Pin
from schedule.planner.term.expected import standing_session
from schedule.planner.term.kinds import Weeks
from schedule.planner.term.rotation.dates import (
    Dates,
    Rotating,
    Row,
    candidates_by_position,
    dates_of,
    rotating_in,
    rows_of,
)
from schedule.planner.term.rotation.master import MOST_ROWS, Spots, StandingMaster
from schedule.planner.term.rotation.pattern import Pattern, Patterns, RotatingUnit, rotating_units
from schedule.planner.term.rotation.positions import Positions, positions_of
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import PlannedWeek, StandingSession, StandingTimetable, TermWeek
from schedule.planner.week.work import Work

FRESH = 16
"""Patterns tried at first, each made anew."""

FRESH_SHARE = 0.15
"""Of the patterns after these, how many are made anew."""

NEAR = 1.06
"""Times the best value: where the columns at hand come so near, more are made."""

WORSE = 1.004
"""Times the value of the pattern at hand: what is no worse takes its place."""

BACK = 0.05
"""How often the search goes back to the best pattern met."""

SHORT = 60
"""Minutes of driving that a session weighs which no rotating day of its week holds."""

USEFUL = 30.0
"""Minutes over the term up to which a column that costs more than it is paid is tried again."""

MOST_POOL = 1_200
"""Columns that are tried again, those met last."""

MOST_TRIED, STALE = 400, 80
"""Patterns tried at most, and after the last that was better."""

WEIGHED = 4
"""The best patterns, whose timetables are weighed over all weeks, disturbed ones too."""

BOUND_SECONDS = 8.0
"""Of work, for the bound given the rotation: it takes one to six."""

SEARCHING = 0.75
"""Of the effort, what the search for a pattern takes; the rest goes to the best ones."""


type Planned = Sequence[tuple[int, PlannedWeek]]

type Valued = tuple[float, Pattern]
"""What a pattern costs, about."""


@dataclass(frozen=True, slots=True)
class Rotated:
    """The timetables found, the rotating sessions of each first, that first which seems to cost least; and how."""

    timetables: tuple[tuple[StandingSession, ...], ...]
    search: "RotationSearch"

    def bound(
        self, weeks: Weeks, term: Sequence[TermWeek], standing: StandingTimetable, planned: Planned
    ) -> int | None:
        """What the term drives at least with the rotating sessions of a timetable; ``None`` where it isn't known.

        ``planned``: for each week of the term the number of its kind, and the week itself. One in which something
        is unusual drives at least what it does if it holds those of the rotating sessions that it holds here.
        """
        bare = (replace(one, space=None) for one in standing.sessions)
        rotating = tuple(one for one in bare if self.search.positions.of(one) < 0)
        undisturbed = self.search.bound(rotating)
        if not undisturbed:
            return None
        others = [(week, one) for week, (n, one) in zip(term, planned, strict=True) if n not in self.search.whole]
        weeks.expect(len(others))
        return undisturbed + sum(
            max(one.least_driving, weeks.least_with(week, _pins(week, one, rotating), one.figures.unplaced))
            for week, one in others
        )


def _pins(week: TermWeek, planned: PlannedWeek, standing: Sequence[StandingSession]) -> list[Pin]:
    """Those of some standing sessions that a week holds."""
    held = ((one, standing_session(week.problem, one)) for one in planned.itinerary.sessions)
    return [
        Pin(one.unit, one.day, one.at, one.place) for one, as_it in held if replace(as_it, space=None) in standing
    ]


@dataclass(slots=True)
class RotationSearch:
    """The search for the pattern of one term."""

    kinds: Sequence[AlikeWeeks]
    positions: Positions
    units: Sequence[RotatingUnit]
    workers: int
    work: Work
    remaining: Callable[[], float]
    clock_left: Callable[[], float]
    candidates: list[list[StandingSession]] = field(default_factory=list)
    pool: dict[tuple[int, Spots], None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.candidates = candidates_by_position(self.kinds, self.positions)
        self.pool = {}

    @property
    def whole(self) -> list[int]:
        """The kinds of week in which nothing is unusual, all where there are none."""
        every = list(range(len(self.kinds)))
        return [n for n in every if not self.kinds[n].week.unusual] or every

    def best_patterns(self, seed: int) -> list[Pattern]:
        """The best patterns met in the time there is, the best one first."""
        makes = Patterns(self.units, random.Random(seed))  # noqa: S311 - a search, no secret
        first = makes.fresh()
        now = best = (self._value(first, math.inf), first)
        found, met = {first: now[0]}, 0
        for number in range(1, MOST_TRIED):
            if self.remaining() <= 0 or number > met + STALE:
                break
            anew = number < FRESH or makes.rng.random() < FRESH_SHARE
            pattern = makes.fresh() if anew else makes.other(now[1])
            if pattern not in found:
                value = self._value(pattern, best[0] if number >= FRESH else math.inf)
                found[pattern] = value
                met = number if value < best[0] else met
                best = min(best, (value, pattern))
                now = self._next(makes, now, (value, pattern), best)
        return sorted(found, key=lambda one: (found[one], one))[:WEIGHED]

    def _next(self, makes: Patterns, now: Valued, tried: Valued, best: Valued) -> Valued:
        """From which pattern the search goes on."""
        if tried[0] < WORSE * now[0]:
            return tried
        return best if makes.rng.random() < BACK else now

    def _value(self, pattern: Pattern, least: float) -> float:
        """What the term costs with a pattern, about; above ``least`` not looked at closely."""
        rotating = rotating_in(self.kinds, pattern)
        standing = self.standing(rotating, range(len(self.kinds)))
        if standing is None:
            return math.inf
        charge = SHORT * self._short(rotating)
        standing.add(self.pool)
        value = standing.value() + charge
        if value > NEAR * least:
            return value
        value = standing.solve(self.remaining, quick=True).value + charge
        if value < least or len(self.pool) < MOST_POOL:
            self.pool |= dict.fromkeys(standing.useful(USEFUL))
        self.pool = dict.fromkeys(list(self.pool)[-MOST_POOL:])
        return value

    def _short(self, rotating: Rotating) -> int:
        """Sessions over the term of units that rotate which no rotating day of their week holds."""
        mine = {member for unit in self.units for member in unit.members}
        return sum(
            kind.count * max(0, service.sessions - held[service.id])
            for kind, held in zip(self.kinds, rotating.held, strict=True)
            for service in kind.week.problem.services
            if service.id in mine
        )

    def standing(self, rotating: Rotating, among: Sequence[int]) -> StandingMaster | None:
        """The linear problem of some kinds of week; ``None`` where it is beyond the method."""
        dates: list[Dates] = dates_of(self.kinds, self.positions, self.candidates, rotating, among)
        rows: list[Row] = rows_of(self.kinds, self.positions, self.candidates, rotating, self.whole)
        if len(rows) > MOST_ROWS or max(len(one.weeks) for one in dates) > MOST_ROWS:
            return None
        standing = StandingMaster(dates, rows, self.work, self.workers)
        standing.add((position, ()) for position in range(self.positions.count))
        return standing

    def timetable(self, pattern: Pattern, clock_left: Callable[[], float]) -> Pattern | None:
        """A pattern and what stands on weekdays with it, over all weeks; ``None`` if a session stands nowhere."""
        standing = self.standing(rotating_in(self.kinds, pattern), range(len(self.kinds)))
        if standing is None:
            return None
        standing.add(self.pool)
        answer = standing.solve(self.remaining, quick=True)
        if answer.value == math.inf or answer.left_over >= 1:
            return None
        chosen = standing.chosen(clock_left())
        self.pool |= dict.fromkeys((one.position, one.spots) for one in standing.columns)
        return (*pattern, *(self.candidates[one.position][spot - 1] for one in chosen for spot in one.spots))

    def bound(self, pattern: Pattern) -> int:
        """What the undisturbed weeks drive at least if they keep all of a timetable with this rotation, or 0."""
        rotating = rotating_in(self.kinds, pattern)
        standing = self.standing(rotating, self.whole)
        if standing is None or any(rotating.refused[n] for n in self.whole):
            return 0
        until = self.work.seconds + BOUND_SECONDS
        standing.add(self.pool)
        answer = standing.solve(lambda: min(until - self.work.seconds, self.clock_left()))
        return max(0, -int(-(answer.bound - 1e-4) // 1)) if answer.bound > 0 and answer.left_over < 1e-6 else 0


def rotated_timetable(
    kinds: Sequence[AlikeWeeks],
    price: Callable[[Sequence[StandingSession]], int],
    *,
    seed: int,
    workers: int,
    effort: float,
    work: Work,
    clock_left: Callable[[], float],
) -> Rotated | None:
    """Timetables of rotating and steady days in ``effort`` seconds of work, counted in ``work``.

    ``price``: what a timetable costs over all weeks, those too in which the calendar disturbs it.
    ``None`` where nothing rotates, nothing is steady, some session would have no standing time, or the method can't
    take the term: it doesn't see wishes.
    """
    if any(kind.model.uses_wishes for kind in kinds):
        return None
    positions = positions_of(kinds)
    units = rotating_units(kinds, positions)
    if not units or not positions.steady:
        return None
    until = work.seconds + SEARCHING * effort
    search = RotationSearch(
        kinds, positions, units, workers, work, lambda: min(until - work.seconds, clock_left()), clock_left
    )
    patterns = search.best_patterns(seed)
    until = work.seconds + (1 - SEARCHING) * effort
    found = list(filter(None, [search.timetable(pattern, clock_left) for pattern in patterns]))
    return Rotated(tuple(sorted(found, key=price)), search) if found else None
