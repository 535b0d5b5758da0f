"""Column generation over whole days, with a true bound in every round.

The days that could be planned are far too many to list. The master problem knows some of them and says, by its
duals, what it would pay for a session, a day, a minute: a day that costs less than it is paid for (a negative
reduced cost) makes the plan better, and is sought by walking each day's graph. A round is

1. the *master*, solved as a linear problem over the days known: its value can't rise from round to round;
2. a *backward walk* of every day under its duals, or under smoothed ones: the least reduced cost of each day, which
   gives the Lagrangian bound (M. Desrochers, J. Desrosiers and M. Solomon, 1992, Operations Research 40);
3. *pricing*: forward walks for good days, quick ones first, and the cheapest ng-routes of the backward walk.

**Why the bound is true.** Let a plan choose one route a day. Its value is what the duals pay for everything that
is owed, plus each route's reduced cost, plus nothing negative for rows that aren't tight. No route of a day has
less than the day's least reduced cost. So no plan costs less than the dual value plus the least of every day.
That holds for any duals of the right signs, the master's or others, optimal or not, whichever routes are known;
for ng-routes, which are more than the real ones, it is lower still. So every round has a bound, and the best one
is kept (``Root``).

**Why duals are smoothed** (P. Wentges, 1997, International Transactions in Operational Research 4). While few
days are known the duals leap from one extreme to another, and so do the days found. Priced are therefore weights
between those of the best bound so far and the master's. A mixture of valid duals is valid, its dual value the
mixture of both. But days that are worth nothing under the mixture may still be worth having under the master's
own duals, so a round that finds nothing new is followed by an unsmoothed one, and now and then one is unsmoothed
anyway (``UNSMOOTHED``).

**Why ng-routes, and why they are cut.** Pricing real days exactly takes labels for every set of services; ng-routes
(R. Baldacci, A. Mingozzi and R. Roberti, 2011, Operations Research 59) take few. They may meet a service twice, and
where the master makes use of such a day its value lies below that of real days. Near the end the walks therefore
remember that service at the places between its two visits (R. Roberti and A. Mingozzi, 2014, Transportation Science
48), the day is thrown out of the master, and the rounds go on, until none is in use.

**When it ends**: the bound is as good as the value (``CLOSE``) and no cycle is left; or nothing new is found
without smoothing; or whoever asked has heard enough; or a limit of labels, rounds or time is met. Whatever ends
it, the bound of the best round stands.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from schedule.planner.proving.columns import Bounded, DayGraph, PricedRoutes, Relaxed, Weights
from schedule.planner.proving.master import Master, Question
from schedule.planner.proving.walkers import Walkers
from schedule.planner.week.routes import Route

ROUNDS = 600
"""Rounds at most, so that it ends whatever happens."""

ROUTES_A_ROUND = 30
RELAXED_A_ROUND = 6
"""New columns of each day in one round at most: more of them would be alike, and all make the master slower."""

type Level = tuple[float, int, int]

PRICING: tuple[Level, ...] = ((0.8, 40, 30_000), (0.3, 200, 30_000))
"""Levels of pricing: the share of the least reduced cost aimed at, labels a node, labels in all.

The second, which looks further from the best and keeps more labels, is tried only where the first finds nothing. A
day without a find is no proof that there is none: proofs come from the backward walk.
"""

SMOOTHING = 0.6
"""Share of the best bound's weights in those that are priced."""

UNSMOOTHED = 8
"""Every so many rounds the master's own weights are priced."""

CLOSE = 0.02
NEAR = 0.003
"""Minutes, and share of the value, between the master's value and the bound: near enough to look for cycles."""

REPEATS_A_ROUTE = 2
MOST_BACKWARD = 120_000
"""Labels of a day's backward walk beyond which no more is remembered."""

USED = 1e-4
"""A route's share in the master's solution that counts as being in use, above the solver's tolerance of 1e-7."""

FIRST_STEP = 0.25
LONGER = 1.2
LONGEST_STEP = 2.0
LEAST_STEP = 0.01
"""Steps of a day's share: halved where it turns round, longer where it goes on."""

type Key = tuple[int, tuple[int, ...], int]


def key_of(route: Route) -> Key:
    """What makes two routes the same: day, visits, and where lunch is."""
    return (route.day, route.visits, route.lunch_gap)


@dataclass(frozen=True, slots=True)
class Root:
    """The best Lagrangian bound with its duals: no day's reduced cost is below its ``least``.

    A plan of value ``v`` holds only columns of reduced cost at most ``least`` of their day plus ``v - bound``: its
    value is at least the dual value and the reduced costs of its columns together, every other day has at least its
    least, and what is left for this one is that much. So all plans better than a known one are made of columns that
    can be listed (``Exact``), and a column beyond that is in none of them.

    ``shares`` are what each day's walk charged in advance for preparation.
    """

    bound: float
    weights: list[Weights]
    least: list[float]
    shares: list[float]
    value: float
    """The master's dual value under these weights: the bound without the days' least."""


@dataclass(frozen=True, slots=True)
class Round:
    """One round: its number from 1, the master with its value, and every day's walk under the weights priced."""

    number: int
    master: Master
    value: float
    smooth: bool
    bounds: list[Bounded]


@dataclass(slots=True)
class Shares:
    """For each day the share of wished preparation that is charged in advance: sought as routes are seen.

    Any share gives a bound (``labels.Charge``). The best lies where the cheapest ng-route prepares exactly what
    is wished for: with less charged it prepares too little, with more it hoards minutes that nobody misses. The
    bound is concave in the share, so bisection finds it, a step a round beside the duals (which move too, so that
    it is kept rough).
    """

    values: list[float]
    steps: list[float]
    most: float
    moving: bool = False
    """Whether a share has just moved by more than a little."""

    @classmethod
    def of(cls, days: int, *, no_miss: bool) -> "Shares":
        """Half of a minute's charge at first."""
        return cls([0.5] * days, [FIRST_STEP] * days, math.inf if no_miss else 1.0)

    def learn(self, day: int, want: int, prepared: int) -> None:
        """More where a day's cheapest ng-route prepares too little, less where it prepares more than is wished."""
        if not want or prepared == want:
            return
        before, step = self.values[day], self.steps[day]
        up = prepared < want
        if up != (step > 0):
            step = -step / 2
        self.values[day] = min(self.most, max(0.0, before + step))
        self.steps[day] = step * LONGER if abs(step) < LONGEST_STEP else step
        self.moving = self.moving or abs(self.values[day] - before) > LEAST_STEP


class Generation:
    """Rounds of column generation for one question over a common pool of routes."""

    def __init__(
        self,
        walkers: Walkers,
        question: Question,
        pool: dict[Key, Route],
        check_time: Callable[[], None],
        tell: Callable[[str], None],
    ) -> None:
        self.walkers = walkers
        self.question = question
        self.pool = pool
        self.check_time = check_time
        self.tell = tell
        self.relaxed: dict[Route, Relaxed] = {}
        """Ng-routes that hold a service twice. They stay in the master: they serve bounds, never plans."""
        self.shares = Shares.of(len(walkers.model.days), no_miss=question.no_miss)
        self.root: Root | None = None
        self.remembering = True

    def run(self, on_bound: Callable[[float], bool], known: float = -math.inf) -> Root | None:
        """Rounds until no column is missing; ``on_bound`` hears of each better bound and may say that it is enough.

        No bound of these rounds is above the master's value: once that has come down to ``known`` they are over.

        Raises whatever ``check_time`` raises; what was learned until then stays in ``pool`` and ``root``.
        """
        for one in self.rounds(known):
            if self.root is None:
                break
            self.tell(f"round {one.number}: bound {self.root.bound:.2f} of {one.value:.2f}")
            if on_bound(self.root.bound):
                break
        return self.root

    def rounds(self, known: float = -math.inf) -> Iterator[Round]:
        """The rounds one by one, each after its bound; its columns are sought when the next one is asked for."""
        master = self._new_master([*self.pool.values(), *self.relaxed])
        smooth = True
        for number in range(ROUNDS):
            self.check_time()
            solved = master.solve()
            if solved is None or solved[0] < known + CLOSE:
                return
            value, current = solved
            smooth = smooth and number % UNSMOOTHED != 0
            bounds = self._bounds(value, current, smooth=smooth)
            if self.root is None or not _complete(bounds):
                return
            one = Round(number + 1, master, value, smooth, bounds)
            yield one
            fresh = self._fresh(bounds)
            following = self._next_master(one, value - self.root.bound, fresh)
            if following is None:
                return
            master = following
            # Nothing found under smoothed weights says little: look once more under the master's own.
            smooth = bool(fresh) or not smooth
            master.add(fresh)

    def _next_master(self, one: Round, left: float, fresh: list[Route]) -> Master | None:
        """The master of the next round: the same, a new one without cycles, or ``None`` where the rounds are over.

        ``left``: minutes between the master's value and the best bound.
        """
        stuck = not fresh and not self.shares.moving
        # Near the end smoothed weights are as good: they lie between vertices, so fewer columns lie near them.
        if left >= max(CLOSE, NEAR * abs(one.value)) and (one.smooth or not stuck):
            return one.master
        kept = self._without_cycles(one.master, one.bounds)
        if kept is not None:
            return self._new_master(kept)
        return None if left < CLOSE or stuck else one.master

    def _new_master(self, routes: Iterable[Route]) -> Master:
        master = Master(self.walkers.model, self.question)
        master.add(routes)
        return master

    def _bounds(self, value: float, current: list[Weights], *, smooth: bool) -> list[Bounded]:
        """Walk the days under smoothed weights; keep the bound if it is the best.

        ``least`` is cut off at 0: the walk leaves days of a positive reduced cost out, and 0 is no more than
        theirs.
        """
        center = self.root
        if center is None or not smooth:
            weights, total = current, value
        else:
            weights = _blend(center.weights, current, SMOOTHING)
            total = SMOOTHING * center.value + (1 - SMOOTHING) * value
        shares = list(self.shares.values)
        bounds = self.walkers.bounded(weights, shares, no_miss=self.question.no_miss)
        if _complete(bounds):
            least = [min(0.0, bound.least) for bound in bounds]
            if center is None or total + sum(least) > center.bound:
                self.root = Root(total + sum(least), weights, least, shares, total)
        return bounds

    def _fresh(self, bounds: list[Bounded]) -> list[Route]:
        """New columns: routes by quick pricing, and the cheapest ng-routes, mended ones beside them."""
        fresh: list[Route] = []
        self.shares.moving = False
        for level in PRICING:
            fresh = self._new(route for priced in self._price(bounds, level) for route in priced.routes)
            if fresh:
                break
        for graph, bound in zip(self.walkers.graphs, bounds, strict=True):
            found = graph.relaxed(bound, RELAXED_A_ROUND)
            if found:
                want = graph.day.day.preparation_minutes
                self.shares.learn(graph.day.index, want, found[0].route.preparation)
            for one in found:
                fresh += self._take(graph, one)
        return fresh

    def _new(self, routes: Iterable[Route]) -> list[Route]:
        """Those not in the pool yet, which they join."""
        fresh: list[Route] = []
        for route in routes:
            if key_of(route) not in self.pool:
                self.pool[key_of(route)] = route
                fresh.append(route)
        return fresh

    def _take(self, graph: DayGraph, one: Relaxed) -> list[Route]:
        if not graph.repeats(one.path):
            return self._new([one.route])
        if one.route in self.relaxed:
            return []
        self.relaxed[one.route] = one
        mended = graph.mended(one)
        return [one.route, *self._new([mended] if mended is not None else [])]

    def _price(self, bounds: list[Bounded], level: Level) -> list[PricedRoutes]:
        share, beam, limit = level

        def one_day(graph: DayGraph) -> PricedRoutes:
            bound = bounds[graph.day.index]
            return graph.price(
                bound,
                share * min(0.0, bound.least),
                no_miss=self.question.no_miss,
                beam=beam,
                max_labels=limit,
                most=ROUTES_A_ROUND,
            )

        return self.walkers.each(one_day)

    def _without_cycles(self, master: Master, bounds: list[Bounded]) -> list[Route] | None:
        """Remember the cycles of the ng-routes in use; the columns that are left, ``None`` without cycles."""
        self.remembering = self.remembering and all(b.suffixes.cost.shape[0] < MOST_BACKWARD for b in bounds)
        if not self.remembering:
            return None
        used = [self.relaxed[r] for r, v in master.shares() if v > USED and r in self.relaxed]
        if not used:
            return None
        self._remember(used)
        return [*self.pool.values(), *self.relaxed]

    def _remember(self, used: Iterable[Relaxed]) -> None:
        """Remember the closest cycles of these ng-routes, and drop all that are ng-routes no longer."""
        graphs = self.walkers.graphs
        for one in used:
            graph = graphs[one.route.day]
            for repeat in graph.repeats(one.path)[:REPEATS_A_ROUTE]:
                graph.remember(one.path, repeat)
        self.relaxed = {r: one for r, one in self.relaxed.items() if graphs[r.day].still_relaxed(one.path)}


def _complete(bounds: list[Bounded]) -> bool:
    return all(bound.suffixes.complete for bound in bounds)


def _blend(center: list[Weights], current: list[Weights], share: float) -> list[Weights]:
    """Weights between those of the best bound and the master's."""

    def between(a: float, b: float) -> float:
        return share * a + (1 - share) * b

    return [
        Weights(
            between(a.drive, b.drive),
            between(a.missed, b.missed),
            between(a.prepared, b.prepared),
            between(a.kept, b.kept),
            share * a.prizes + (1 - share) * b.prizes,
            between(a.convexity, b.convexity),
        )
        for a, b in zip(center, current, strict=True)
    ]
