"""Proof: column generation over whole days, then enumeration of every column below the gap.

Closing the gap by route enumeration after R. Baldacci, N. Christofides and A. Mingozzi (2008), Mathematical
Programming 115. Optimality is claimed only if no limit was hit on the way.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial

from schedule.planner.problem import Goal
from schedule.planner.proving.choice import Chosen, Limits, RouteChoice
from schedule.planner.proving.columns import DayGraph, PricedRoutes
from schedule.planner.proving.generation import Generation, Key, Root, key_of
from schedule.planner.proving.master import Question
from schedule.planner.proving.proof import (
    BESIDE,
    CHOOSING_SHARE,
    EASILY_CHOSEN,
    FEEDING_SHARE,
    GENERATION_SHARE,
    MOST_NEARBY,
    NEARBY,
    PRESSING_SHARE,
    ROUNDS_OF_MEDIANS,
    SETTLING,
    STAGE_SHARES,
    Proof,
    Settled,
)
from schedule.planner.proving.walkers import Walkers
from schedule.planner.result import Ended
from schedule.planner.week.model import Model, off_times
from schedule.planner.week.objective import figures_of, median_times
from schedule.planner.week.routes import Route
from schedule.planner.week.work import HaltedError

ENUMERATED = 1_000_000
MOST_COLUMNS = 60_000

GAPS = (0, 1, 2, 4, 7, 11, 19, 39, 79)
"""Steps of the goal's values above the least that the bound allows: what is enumerated, one after the other."""

POOL_NODES = 100
MOST_NODES = 50_000

TOLERANCE = 1e-6
SLACK = 1e-5
"""Added to a width, so that rounding never leaves out a column that a better plan could hold."""


class Exact:
    """One goal after the other over a common pool of routes."""

    def __init__(
        self,
        model: Model,
        workers: int,
        remaining: Callable[[], float],
        on_better: Callable[[list[Route]], None],
        tell: Callable[[str], None],
        on_bound: Callable[[Goal, int], None] = lambda _goal, _bound: None,
        *,
        clock_left: Callable[[], float] | None = None,
        by_work: bool = False,
    ) -> None:
        """``by_work``: ``remaining`` is of work, and an integer problem is cut by it and by ``clock_left``."""
        self.model = model
        self.clock_left = clock_left or remaining
        self.by_work = by_work
        self.remaining = remaining
        self.on_better = on_better
        self.tell = tell
        self.on_bound = on_bound
        self.pool: dict[Key, Route] = {}
        self.walkers = self._new_walkers(workers, every_start=False)
        self.full: Walkers | None = None
        self.settled: Settled | None = None
        """The driving or the change that was proved last: what comes after it is chosen among few columns."""
        self._until = 0.0
        """Seconds of the run that must be left when the present part of the search ends."""

    @property
    def labels(self) -> int:
        """Labels made by all forward walks so far."""
        return sum(graph.labels for one in (self.walkers, self.full) if one is not None for graph in one.graphs)

    def learn(self, routes: Iterable[Route]) -> None:
        """Add routes to the pool."""
        for route in routes:
            self.pool.setdefault(key_of(route), route)

    def _check_time(self) -> None:
        if self._left() <= 0:
            raise HaltedError

    def _left(self) -> float:
        """Seconds left for this part of the search."""
        return self.remaining() - self._until

    def _may_take(self, share: float) -> None:
        """From now on: this share of what is left for the goal, the rest is kept back."""
        self._until += (1 - share) * max(0.0, self._left())

    # ---- one goal ----------------------------------------------------------------------------------------

    def prove(self, goal: Goal, held: dict[Goal, int], routes: list[Route], floor: int) -> Proof:
        """Minimize a goal with the earlier ones held. ``floor`` is a bound that is known already.

        The proof's bound is true even if the time runs out on the way.
        """
        proof = Proof(figures_of(self.model, routes).of(goal), floor, routes)
        if proof.closed():
            return proof
        if not self.walkers.usable:
            proof.end(self.walkers.misfit)
            return proof
        self.learn(routes)
        question = self._question(goal, held)
        self._until = 0.0
        self._may_take(STAGE_SHARES[goal])
        ends = self._until
        try:
            if not self._from_settled(question, proof):
                fed = self._feed(question, proof, ends)
                self._close(question, proof, ends)
                self._press(question, proof, fed)
        except HaltedError:
            proof.end(None if self.full is None else self.full.misfit)
            self.tell("stopped before the proof was complete")
        return proof

    def _question(self, goal: Goal, held: Mapping[Goal, int]) -> Question:
        """Without a week in force nothing can change, so that nothing need be held either."""
        if self.model.current_sessions:
            return Question(goal, dict(held))
        return Question(goal, {one: value for one, value in held.items() if one is not Goal.CHANGE})

    def _from_settled(self, question: Question, proof: Proof) -> bool:
        """Choose among all columns that keep the goal proved last at its best; whether that settled this one."""
        settled = self.settled
        # Only plans that are no worse than the one at hand are sought.
        sought = {**question.held, question.goal: proof.value}
        if question.goal not in SETTLING or settled is None or not settled.holds_in(sought):
            return False
        found = self._all_below(question, settled.root, settled.width, proof)
        if found is None:
            return False
        self.tell(f"{len(found)} days keep the {settled.goal.value} at its best")
        chosen = self._choose(question, proof, found, MOST_NODES, proof.value - self._offset(question))
        self._bound(proof, chosen.bound, question)
        return proof.closed()

    def prove_sameness(self, held: dict[Goal, int], routes: list[Route], floor: int, seconds: float) -> Proof:
        """Bring sameness down among all columns that keep the goal proved last at its best, for some seconds.

        The bound counts how the days are spread and minutes off the usual times. What a service without a usual
        time lies off its own median couples its days: weeks are sought with the medians of the best week as times,
        over and over, but the bound leaves that part out.
        """
        proof = Proof(figures_of(self.model, routes).sameness, floor, routes)
        settled, question = self.settled, self._question(Goal.SAMENESS, held)
        if proof.closed() or settled is None or not settled.holds_in(held):
            proof.met.append(Ended.EARLIER)
            return proof
        self._until = 0.0
        self._may_take(STAGE_SHARES[Goal.SAMENESS])
        self._until = max(self._until, self.remaining() - seconds)
        try:
            self._improve_sameness(question, proof, settled.root, settled.width)
            found = None if proof.closed() else self._all_below(question, settled.root, settled.width, proof)
            if found is not None:
                chosen = self._choose(question, proof, found, MOST_NODES, proof.value - 1)
                self._bound(proof, chosen.bound, question)
                if not chosen.nodes_ran_out and not proof.closed():
                    proof.met.append(Ended.OWN_TIMES)
        except HaltedError:
            proof.end(None if self.full is None else self.full.misfit)
            self.tell("stopped before the proof was complete")
        return proof

    def _improve_sameness(self, question: Question, proof: Proof, root: Root, width: float) -> None:
        """Weeks near the median times of the best one, until they are no better."""
        ends = self._until
        for _ in range(ROUNDS_OF_MEDIANS):
            before, times = proof.value, median_times(self.model, proof.routes)
            if not times:
                return
            found = self._all_near(times, question, root, width, proof)
            if found is not None:
                self._may_take(CHOOSING_SHARE)
                off = partial(self._off, times)
                self._choose(question, proof, found, POOL_NODES, proof.value - 1, off)
                self._until = ends
            if proof.value == before:
                return

    def _all_near(
        self, times: dict[int, int], question: Question, root: Root, width: float, proof: Proof
    ) -> list[Route] | None:
        """Every column within the width, of those over the same sessions the ones nearest to the times."""
        graphs = self._walkers_for(question).graphs
        for graph in graphs:
            graph.use_times(times)
        try:
            return self._all_below(question, root, width, proof)
        finally:
            for graph in graphs:
                graph.use_times({})

    def _off(self, times: dict[int, int], route: Route) -> int:
        nodes = self.model.days[route.day].nodes
        return route.off + sum(off_times(nodes[n], times) for n in route.visits)

    def _feed(self, question: Question, proof: Proof, ends: float) -> Generation | None:
        """Columns from a blend with driving, where the goal alone makes many routes equally good."""
        beside = BESIDE.get(question.goal)
        if beside is None:
            return None
        self._may_take(FEEDING_SHARE)
        blend = Question(Goal.DRIVING, question.held, beside)
        generation = Generation(self.walkers, blend, self.pool, self._check_time, self.tell)
        try:
            generation.run(lambda _: False)
        except HaltedError:
            self.tell("columns enough")
        self._until = ends
        self._choose_better(question, proof)
        self._choose_near(question, proof, generation, NEARBY[0])
        return generation

    def _press(self, question: Question, proof: Proof, fed: Generation | None) -> None:
        """Go on with the blend where no week meets the goal's own bound yet: ever more columns near its best."""
        if fed is None or proof.closed():
            return
        ends = self._until
        self._may_take(PRESSING_SHARE)
        try:
            fed.run(lambda _: False)
        except HaltedError:
            self.tell("columns enough")
        self._until = ends
        self._choose_better(question, proof)
        for width in NEARBY:
            self._choose_near(question, proof, fed, width)

    def _choose_near(self, question: Question, proof: Proof, fed: Generation, width: float) -> None:
        """The best choice among all columns within some minutes of the blend's bound, if they are not too many."""
        if proof.closed() or fed.root is None:
            return
        near = self._all_below(fed.question, fed.root, width, proof)
        if near is not None and len(near) <= MOST_NEARBY:
            self._choose_better(question, proof, near)

    def _close(self, question: Question, proof: Proof, ends: float) -> None:
        self._may_take(GENERATION_SHARE)
        if proof.closed():
            return
        generation = Generation(self._walkers_for(question), question, self.pool, self._check_time, self.tell)

        def on_bound(bound: float) -> bool:
            self._bound(proof, bound, question)
            return proof.closed()

        halted = False
        try:
            generation.run(on_bound, proof.bound - self._offset(question))
        except HaltedError:
            halted = True
        self._until = ends
        self._close_from(question, proof, generation.root)
        if halted and not proof.closed():
            raise HaltedError

    def _close_from(self, question: Question, proof: Proof, root: Root | None) -> None:
        if not proof.closed():
            self._choose_better(question, proof)
        if root is None:
            return
        if not proof.closed():
            self._enumerate(question, proof, root)
        if question.goal in SETTLING and proof.closed():
            width = proof.value - self._offset(question) - root.bound + SLACK
            held = {**question.held, question.goal: proof.value}
            self.settled = Settled(question.goal, held, root, width)

    def _offset(self, question: Question) -> int:
        """What the master's value lacks: it counts sessions kept, the goal counts those that are not."""
        return self.model.current_sessions if question.goal is Goal.CHANGE else 0

    def _step(self, question: Question) -> int:
        return self.model.value_step if question.goal is Goal.UNPLACED else 1

    def _walkers_for(self, question: Question) -> Walkers:
        """The graphs with every start where a route is charged by its times, else the smaller ones."""
        if question.goal not in {Goal.CHANGE, Goal.SAMENESS} and Goal.CHANGE not in question.held:
            return self.walkers
        if self.full is None:
            full = self._new_walkers(self.walkers.workers, every_start=True)
            self.full = full if full.laid_out else None
        if self.full is None or not self.full.usable:
            raise HaltedError
        return self.full

    def _new_walkers(self, workers: int, *, every_start: bool) -> Walkers:
        return Walkers(self.model, workers, every_start, self.remaining, self.by_work)

    def _bound(self, proof: Proof, bound: float, question: Question) -> None:
        """Raise the proof's bound; values are whole numbers (multiples of a common step if unplaced)."""
        if not math.isfinite(bound):
            proof.bound = proof.value if bound > 0 else proof.bound
            return
        step = self._step(question)
        whole = math.ceil((bound + self._offset(question) - TOLERANCE) / step) * step
        proof.bound = max(proof.bound, min(whole, proof.value))
        self.on_bound(question.goal, proof.bound)

    # ---- integer problems --------------------------------------------------------------------------------

    def _choose_better(self, question: Question, proof: Proof, near: Iterable[Route] = ()) -> None:
        """The best choice among the columns met so far and some more, within a share of the time and some nodes."""
        before = self._until
        self._may_take(CHOOSING_SHARE)
        cutoff = proof.value - self._offset(question) - self._step(question)
        self._choose(question, proof, [*self.pool.values(), *proof.routes, *near], POOL_NODES, cutoff)
        self._until = before

    def _choose(
        self,
        question: Question,
        proof: Proof,
        routes: list[Route],
        nodes: int,
        cutoff: float,
        off: Callable[[Route], int] = lambda route: route.off,
    ) -> Chosen:
        self._check_time()
        self.tell(f"choosing among {len(routes)} days")
        limits = self._limits(nodes)
        chosen = RouteChoice(self.model, question, routes, off).best(limits, cutoff)
        proof.met += [Ended.NODES] if chosen.nodes_ran_out and nodes == MOST_NODES else []
        if chosen.routes is None:
            return chosen
        self._take(question, proof, chosen.routes)
        value = figures_of(self.model, chosen.routes).of(question.goal) - self._offset(question)
        # A plan below its own bound would mean that the solver erred: then nothing is claimed.
        return chosen if value >= chosen.bound - TOLERANCE else replace(chosen, bound=-math.inf)

    def _limits(self, nodes: int) -> Limits:
        clock = self.clock_left if self.by_work else self._left
        return Limits(clock(), nodes, lambda: clock() <= 0, self._left() if self.by_work else math.inf)

    def _take(self, question: Question, proof: Proof, routes: list[Route]) -> None:
        figures = figures_of(self.model, routes)
        if any(figures.of(goal) > value for goal, value in question.held.items()):
            return
        if figures.of(question.goal) < proof.value:
            proof.value, proof.routes = figures.of(question.goal), routes
            self.on_better(routes)

    def _enumerate(self, question: Question, proof: Proof, root: Root) -> None:
        """All columns below growing gaps; proved once the best choice among them lies within the gap."""
        step, offset = self._step(question), self._offset(question)
        for gap in GAPS:
            value = min(proof.bound + gap * step, proof.value - step)
            width = max(0.0, value - offset - root.bound) + SLACK
            found = self._all_below(question, root, width, proof)
            if found is None:
                return
            self.tell(f"{len(found)} days lie within {width:.1f} of the bound")
            worth = proof.value - step - offset if len(found) < EASILY_CHOSEN else root.bound + width
            chosen = self._choose(question, proof, found, MOST_NODES, worth)
            # A better plan holds a column beyond the width, so that its value lies beyond it too, or is bounded.
            self._bound(proof, min(chosen.bound, value - offset + step), question)
            if proof.closed() or proof.bound <= value:
                return
        proof.met.append(Ended.GAP)

    def _all_below(self, question: Question, root: Root, width: float, proof: Proof) -> list[Route] | None:
        """Every column that a plan within ``width`` of the bound can hold; ``None`` where too many."""
        self._check_time()
        no_miss = question.no_miss

        def one_day(graph: DayGraph) -> PricedRoutes:
            day, gap = graph.day.index, width + root.least[graph.day.index]
            bound = graph.bounded(root.weights[day], root.shares[day], gap, no_miss=no_miss)
            if not bound.suffixes.complete:
                return PricedRoutes([], complete=False)
            return graph.enumerate_below(bound, gap, no_miss=no_miss, max_labels=ENUMERATED)

        days = self._walkers_for(question).each(one_day)
        if not all(priced.complete for priced in days):
            proof.met.append(Ended.LABELS)
            return None
        found = [route for priced in days for route in priced.routes]
        if len(found) > MOST_COLUMNS or any(priced.too_many for priced in days):
            proof.met.append(Ended.COLUMNS)
            return None
        return found
