"""A timetable bettered by what all of its weeks then cost, those that the calendar disturbs repaired exactly.

Large neighborhood search (Shaw 1998) under simulated annealing. A step either takes out sessions that go together
and puts them back as the plain week likes best, its costs blurred by chance; or it chooses two days anew among
those that ``weighed`` listed, with the same sessions between them. What the step is worth is then said by
``repair`` for every kind of week. Steps are counted in work, so that the same seed gives the same timetable
everywhere.
"""

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from schedule.planner.term.choice.repair import Repairs, Sets
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.term import StandingSession
from schedule.planner.week.work import Work

HEAT = (0.8, 0.04)
"""Minutes of driving a week by which a worse term may be taken, at the beginning and at the end."""

MOST_OUT = 6
PASSED_OVER = 0.2
"""How often a way to put a session back is passed over, so that others have a turn."""

FROM_LIST = 0.3
"""Share of the steps that choose two days anew."""

ENOUGH = 4
"""Steps, times the square of how many sessions stand: more has not been seen to help."""

NEAR_MINUTES = 45

LEAST_CHARGE = 30
"""Minutes of driving that a session without a place weighs at least, where usual times are worth less."""

ANY = math.inf

type Standing = tuple[StandingSession, ...]


@dataclass(frozen=True, slots=True)
class ListedDay:
    """The sessions of a day of the plain week, and about what they drive over the term."""

    day: int
    sessions: Standing
    cost: int


@dataclass(slots=True)
class Exchange:
    """The search over timetables of a term whose days don't rotate. ``plain`` is its plain week."""

    kinds: Sequence[AlikeWeeks]
    plain: AlikeWeeks
    worth: int
    seed: int
    work: Work
    listed: Sequence[ListedDay] = ()
    rng: random.Random = field(default_factory=random.Random)
    repairs: list[Repairs] = field(default_factory=list)
    by_day: dict[int, list[ListedDay]] = field(default_factory=dict)
    by_units: dict[tuple[int, tuple[str, ...]], list[ListedDay]] = field(default_factory=dict)
    known: dict[Standing, int] = field(default_factory=dict)
    standing: dict[tuple[int, int], StandingSession] = field(default_factory=dict)
    """By day and node of the plain week, as what it stands."""

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)  # noqa: S311 - a search needs no secret
        charge = max(LEAST_CHARGE, self.worth)
        self.repairs = [Repairs(kind, self.work, charge) for kind in [*self.kinds, self.plain]]
        self.standing = {spot: one for one, spots in self.plain.nodes.items() for spot in spots}
        for one in sorted(self.listed, key=lambda day: day.cost):
            self.by_day.setdefault(one.day, []).append(one)
            self.by_units.setdefault((one.day, _units(one.sessions)), []).append(one)

    def cost(self, sessions: Iterable[StandingSession]) -> int:
        """Minutes over the term, with a charge for what leaves its time or has no place."""
        return self._cost(tuple(sorted(sessions)), ANY) or 0

    def _cost(self, key: Standing, most: float) -> int | None:
        """The same, or ``None`` once it is clear to be more than ``most``."""
        if key in self.known:
            return self.known[key]
        weeks = [(kind.count, one, one.begun(key)) for kind, one in zip(self.kinds, self.repairs, strict=False)]
        total = sum(count * begun.cost for count, _, begun in weeks)
        for count, one, begun in weeks:
            if total > most:
                return None
            total += count * one.rest(begun)
        self.known[key] = total
        return total

    def bettered(self, start: Standing, effort: float, clock_left: Callable[[], float]) -> Standing:
        """The best timetable met within so many seconds of work from here on."""
        current = best = tuple(sorted(start))
        now = least = self.cost(start)
        began, weeks, tried = self.work.seconds, sum(kind.count for kind in self.kinds), 0
        enough = ENOUGH * len(current) ** 2
        while (spent := self.work.seconds - began) < effort and tried < enough and clock_left() > 0:
            done = max(spent / effort, tried / enough)
            heat = weeks * HEAT[0] * (HEAT[1] / HEAT[0]) ** done
            tried += 1
            trial = self._step(current, heat)
            cost = None if trial is None else self._cost(trial, now + self.rng.expovariate(1 / heat))
            if trial is not None and cost is not None:
                current, now = trial, cost
                if now < least:
                    best, least = current, now
        return best

    def _step(self, current: Standing, heat: float) -> Standing | None:
        if len(self.by_day) > 1 and self.rng.random() < FROM_LIST:
            return self._two_days(current, heat)
        return self._put_back(current, heat)

    # ---- out and in again --------------------------------------------------------------------------------

    def _put_back(self, current: Standing, heat: float) -> Standing | None:
        """Sessions that go together, taken out and put back; ``None`` where that changes nothing."""
        out = self._together([one for one in current if one in self.plain.nodes])
        rest = tuple(one for one in current if one not in out)
        back = self._in_again(rest, out, heat)
        return None if back in (None, out) else tuple(sorted((*rest, *(back or ()))))

    def _in_again(self, rest: Standing, out: set[StandingSession], heat: float) -> set[StandingSession] | None:
        """What was taken out, where the plain week likes it best by costs blurred by chance."""
        plain, weeks = self.repairs[-1], sum(kind.count for kind in self.kinds)
        visits, missing, _ = plain.held(rest)
        held = sum(len(plain.kind.model.problem.members(one.unit)) for one in out)

        def sets_of(day: int, held: tuple[int, ...], services: tuple[int, ...]) -> Sets:
            return plain.sets(day, held, services, lambda: self.rng.random() < PASSED_OVER)

        ways = plain.put(visits, missing, sets_of, lambda cost: weeks * cost + self.rng.expovariate(1 / heat))
        best = min((put for mine, put in ways.items() if mine.bit_count() >= held), default=None)
        return None if best is None else {self.standing[spot] for spot in best[1]}

    def _together(self, sessions: Sequence[StandingSession]) -> set[StandingSession]:
        """A session and others of its school, of its day, near it in time, or any."""
        if not sessions:
            return set()
        one, way = self.rng.choice(sessions), self.rng.random()
        others = [other for other in sessions if other != one and _go_together(one, other, way)]
        count = min(self.rng.randint(1, MOST_OUT - 1), len(others))
        return {one, *self.rng.sample(others, count)}

    # ---- two days from the list --------------------------------------------------------------------------

    def _two_days(self, current: Standing, heat: float) -> Standing | None:
        """Two days chosen anew, those that drive less first, with the same sessions between them."""
        first, second = self.rng.sample(sorted(self.by_day), 2)
        mine = [one for one in current if self._day(one) in (first, second)]
        before = sorted(one.unit for one in mine)
        pairs = self._pairs(first, second, before)
        if not pairs:
            return None
        least = min(one.cost + other.cost for one, other in pairs)
        weights = [math.exp((least - one.cost - other.cost) / heat) for one, other in pairs]
        ((one, other),) = self.rng.choices(pairs, weights)
        new = {*one.sessions, *other.sessions}
        return None if new == set(mine) else tuple(sorted({*current}.difference(mine) | new))

    def _pairs(self, first: int, second: int, units: Sequence[str]) -> list[tuple[ListedDay, ListedDay]]:
        """Listed days, one of each, that hold just these units between them."""
        ones = self.by_day[first]
        pairs = [
            (one, other) for one in ones for other in self.by_units.get((second, _without(units, one.sessions)), ())
        ]
        self.work.add(500 * (len(pairs) + len(ones)))
        return pairs

    def _day(self, session: StandingSession) -> int:
        return next((day for day, _ in self.plain.nodes.get(session, ())), -1)


def _go_together(one: StandingSession, other: StandingSession, way: float) -> bool:
    """Of one school, of one day, near in time, or any: by chance, a number below 1."""
    if way < 0.4:
        return other.place == one.place
    if way < 0.6:
        return other.pattern_key == one.pattern_key
    return way >= 0.8 or abs(other.at - one.at) <= NEAR_MINUTES


def _units(sessions: Iterable[StandingSession]) -> tuple[str, ...]:
    return tuple(sorted(one.unit for one in sessions))


def _without(units: Sequence[str], sessions: Iterable[StandingSession]) -> tuple[str, ...]:
    """The units that are left without those of some sessions; no day has these where one isn't among them."""
    left = list(units)
    for one in sessions:
        if one.unit not in left:
            return ("",)
        left.remove(one.unit)
    return tuple(left)
