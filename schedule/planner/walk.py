"""One tiny week, step by step, with the planner's own numbers: ``python -m schedule.planner.walk FILE``.

Prints how a week is laid out, filled, bounded and proved, for whoever wants to see what ``docs/planner.md`` tells.
Every number comes from the functions that plan real weeks. Left out are the search (``week.improve``), which would
find the best of so small a week at once, and all goals but driving: everything must fit, and no wish be asked.
"""

import math
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from schedule.planner.check import check
from schedule.planner.jsonform import json_from_bytes, problem_from_json
from schedule.planner.problem import Goal, Problem
from schedule.planner.proving.choice import Limits, RouteChoice
from schedule.planner.proving.columns import Bounded, Weights
from schedule.planner.proving.generation import Generation, Key, Root, Round, key_of
from schedule.planner.proving.master import Question
from schedule.planner.proving.walkers import Walkers
from schedule.planner.result import Item, ItemKind
from schedule.planner.times import clock
from schedule.planner.week.construct import insertions
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import OPEN, DayModel, Model
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route, plan_of
from schedule.planner.week.state import WeekState

MOST_VISITS = 20
"""Possible visits a day: more don't fit on a page."""

SLACK = 1e-5
"""Minutes by which reduced costs may be off through rounding."""

QUESTION = Question(Goal.DRIVING, {Goal.UNPLACED: 0})
"""The least driving with everything placed."""

USAGE = "Usage: python -m schedule.planner.walk FILE.json (docs/examples/tiny-week.json is one that fits)"


class TooMuchError(ValueError):
    """The week asks for more than a walk on one page can show."""


@dataclass(slots=True)
class WeekTour:
    """The tour of one week: what is known so far, and the lines that tell of it."""

    model: Model
    pool: dict[Key, Route] = field(default_factory=dict)
    best: list[Route] = field(default_factory=list)

    @property
    def value(self) -> int:
        """Minutes at the wheel of the best week so far."""
        return figures_of(self.model, self.best).driving

    def learn(self, routes: Sequence[Route]) -> None:
        """Take routes over as columns."""
        self.pool.update({key_of(route): route for route in routes})

    # ---- the steps ---------------------------------------------------------------------------------------

    def lines(self) -> Iterator[str]:
        """The whole walk."""
        yield from self.layout()
        yield from self.first_week()
        walkers = Walkers(self.model, 1, False, lambda: math.inf)
        generation = Generation(walkers, QUESTION, self.pool, lambda: None, lambda _: None)
        yield from self.rounds(generation)
        if generation.root is None:
            raise TooMuchError("No bound was found: the week is too large for this walk.")
        yield from self.choice_so_far(generation.root)
        yield from self.proof(walkers, generation.root)
        yield from self.week()

    def layout(self) -> Iterator[str]:
        """Nodes and the steps between them."""
        yield "1. THE WEEK AS NODES (week/model)"
        yield "   A node is a session at one of its starts. After the arrow: what can follow, minutes at the wheel."
        for day in self.model.days:
            yield ""
            for number in range(len(day.nodes)):
                head = _day(day) if number == 0 else ""
                yield f"   {head:<4}{number:>2}  {_node(day, number)}{_steps(day, number)}".rstrip()

    def first_week(self) -> Iterator[str]:
        """Regret insertion, session by session."""
        yield from ("", "2. A FIRST WEEK (week/construct): whoever would regret waiting most goes in first")
        state = WeekState(self.model)
        before = state.figures.driving
        for option in insertions(state, regret=True):
            day = self.model.days[option.day]
            now = state.figures.driving
            yield f"   {_visit(day, option.node)}: driving {before} -> {now}"
            before = now
        if state.figures.unplaced:
            raise TooMuchError("Not everything fits at once; this walk shows a week in which it does.")
        self.best = list(state.routes)
        self.learn(self.best)
        yield f"   The judge: {self.judged()}"

    def rounds(self, generation: Generation) -> Iterator[str]:
        """Rounds of column generation, each with its master, its weights, its bound and its new days."""
        yield from ("", "3. WHOLE DAYS AS COLUMNS (proving/master, completions, generation)")
        known: set[Key] = set()
        for one in generation.rounds():
            yield from self.columns_since(known)
            yield from self.round(one, generation.root)
            known = set(self.pool)
        yield from self.columns_since(known)
        if generation.root is not None:
            yield f"   No column is missing: no mixture of days costs less than {_number(generation.root.bound)}."

    def columns_since(self, known: set[Key]) -> Iterator[str]:
        """The days that have joined the master since."""
        fresh = [route for key, route in self.pool.items() if key not in known]
        for route in sorted(fresh, key=_order):
            yield f"      column {self.told(route)}"

    def round(self, one: Round, root: Root | None) -> Iterator[str]:
        """One round."""
        used = [(route, share) for route, share in one.master.shares() if share > SLACK]
        mixed = " + ".join(
            f"{_number(share)} x {self.short(route)}" for route, share in sorted(used, key=_share_order)
        )
        yield f"   Round {one.number}. The master: {_number(one.value)} = {mixed}"
        weights = [bound.weights for bound in one.bounds]
        kind = "smoothed" if one.smooth else "the master's own"
        yield f"      pay ({kind}): {self.pay(weights)}"
        least = ", ".join(f"{_day(d)} {self.least(d, b)}" for d, b in zip(self.model.days, one.bounds, strict=True))
        yield f"      least reduced cost: {least}"
        bound = _dual_value(weights) + sum(min(0.0, one.least) for one in one.bounds)
        best = (
            ""
            if root is None or abs(root.bound - bound) < SLACK
            else f" (the best so far is {_number(root.bound)})"
        )
        yield f"      bound: {_sum_of(_dual_value(weights), one.bounds)} = {_number(bound)}{best}"

    def choice_so_far(self, root: Root) -> Iterator[str]:
        """The best week of the columns met."""
        yield from ("", "4. WHOLE NUMBERS (proving/choice): one of those days each, not a mixture")
        self.choose(list(self.pool.values()))
        days, bound = len(self.pool), _number(root.bound)
        yield f"   The best week of the {days} days met drives {self.value} minutes; the bound is {bound}."

    def proof(self, walkers: Walkers, root: Root) -> Iterator[str]:
        """Every column that a better week could hold, and the best choice among them."""
        yield from ("", "5. CLOSING THE GAP (proving/exact, walks): every day that a better week could hold")
        if self.value - 1 < root.bound - SLACK:
            yield f"   None: a better week would drive {self.value - 1} minutes or less, below the bound."
            return
        width = self.value - 1 - root.bound
        yield f"   A better week drives {self.value - 1} or less, at most {_number(width)} above the bound. So each"
        yield "   of its days costs at most so much more than that day's least, under the pay of the best round:"
        found: list[Route] = []
        for day, graph in zip(self.model.days, walkers.graphs, strict=True):
            gap = root.least[day.index] + width + SLACK
            weights = root.weights[day.index]
            bounded = graph.bounded(weights, root.shares[day.index], gap, no_miss=False)
            listed = graph.enumerate_below(bounded, gap, no_miss=False, max_labels=100_000)
            yield f"   {_day(day)}, up to {_number(root.least[day.index])} + {_number(width)}:"
            for route in sorted(listed.routes, key=_order):
                yield f"      {_number(self.reduced(weights, route)):>6}  {self.told(route)}"
            found += listed.routes
        before = self.value
        self.choose([*found, *self.best])
        if self.value < before:
            yield f"   The best week of these drives {self.value} minutes. They are all days that a better one"
            yield f"   could hold, so there is none: {self.value} is proved best."
        else:
            yield f"   No week of these places everything in less than {before} minutes: {before} is proved best."

    def week(self) -> Iterator[str]:
        """The week that is proved."""
        yield from ("", "6. THE WEEK")
        for day, route in zip(self.model.days, sorted(self.best, key=_order), strict=True):
            yield f"   {self.told(route)}"
            plan = plan_of(self.model, self.best).day(day.day.id)
            yield from (f"      {_item(self.model.problem, item)}" for item in plan.items if item.kind in SHOWN)
        yield f"   The judge: {self.judged()}"

    # ---- what they share ---------------------------------------------------------------------------------

    def choose(self, routes: list[Route]) -> None:
        """The best week made of these days; it stays as it is where none is better."""
        limits = Limits(math.inf, 10_000, lambda: False)
        chosen = RouteChoice(self.model, QUESTION, routes).best(limits, math.inf)
        if chosen.routes is not None and figures_of(self.model, chosen.routes).driving < self.value:
            self.best = chosen.routes

    def judged(self) -> str:
        """What the judge says of the best week."""
        verdict = check(self.model.problem, plan_of(self.model, self.best))
        if not verdict.holds:
            raise TooMuchError("; ".join(violation.text for violation in verdict.violations))
        return f"no rule is broken; unplaced {verdict.figures.unplaced}, driving {verdict.figures.driving} minutes."

    def reduced(self, weights: Weights, route: Route) -> float:
        """What a day costs less what it is paid for."""
        day = self.model.days[route.day]
        prizes = sum(weights.prizes[s] for visit in route.visits for s in day.nodes[visit].services)
        return float(weights.drive * route.drive - prizes - weights.convexity)

    def least(self, day: DayModel, bound: Bounded) -> str:
        """The least reduced cost of a day; days that cost what they are paid for, or more, aren't looked at."""
        return _number(bound.least) if bound.least < 0 else "0 or more"

    def pay(self, weights: list[Weights]) -> str:
        """What is paid for each session and each day."""
        services = self.model.problem.services
        prizes = [f"{one.label or one.id} {_number(weights[0].prizes[n])}" for n, one in enumerate(services)]
        days = [f"{_day(day)} {_number(one.convexity)}" for day, one in zip(self.model.days, weights, strict=True)]
        return ", ".join([*prizes, *days])

    def short(self, route: Route) -> str:
        """A day by its nodes."""
        return f"{_day(self.model.days[route.day])}[{'-'.join(map(str, route.visits))}]"

    def told(self, route: Route) -> str:
        """A day by its nodes, what they are, and its driving."""
        day = self.model.days[route.day]
        visits = ", ".join(f"{day.nodes[n].label} {clock(day.nodes[n].start)}" for n in route.visits) or "nothing"
        return f"{self.short(route)} {visits}: {route.drive}"


SHOWN = (ItemKind.DRIVE, ItemKind.SESSION)


def _item(problem: Problem, item: Item) -> str:
    what = f"drive to {problem.name_of_place(item.to_place or '')}" if item.kind is ItemKind.DRIVE else item.label
    return f"{clock(item.start):>5}-{clock(item.end):<5} {what}"


def _day(day: DayModel) -> str:
    return (day.day.label or day.day.id)[:3]


def _node(day: DayModel, number: int) -> str:
    """A node's time, what it is, and where."""
    node = day.nodes[number]
    times = f"{clock(node.start):>5}" + (f"-{clock(node.end):<5}" if node.session else " " * 6)
    what = node.label if node.session else ("from" if number == 0 else "to")
    return f"{times} {what:<4} {_place(day, number):<7}"


def _steps(day: DayModel, number: int) -> str:
    """What can follow a node, and how far that is."""
    gaps = [(to, day.gap(number, to)) for to in range(number + 1, len(day.nodes))]
    steps = ", ".join(f"{to} ({gap.drive})" for to, gap in gaps if gap is not None)
    return f"  -> {steps}" if steps else ""


def _place(day: DayModel, number: int) -> str:
    place = day.nodes[number].place
    return "" if place == OPEN else day.model.problem.name_of_place(day.model.place_ids[place])


def _visit(day: DayModel, number: int) -> str:
    node = day.nodes[number]
    return f"{node.label} {_day(day)} {clock(node.start)} {_place(day, number)}"


def _order(route: Route) -> tuple[int, tuple[int, ...]]:
    return route.day, route.visits


def _share_order(pair: tuple[Route, float]) -> tuple[int, tuple[int, ...]]:
    return _order(pair[0])


def _number(value: float) -> str:
    """A number with two digits at most, and no minus before nothing."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _dual_value(weights: list[Weights]) -> float:
    """What all sessions (each owed once) and days are paid together."""
    return float(sum(weights[0].prizes) + sum(one.convexity for one in weights))


def _sum_of(total: float, bounds: Iterable[Bounded]) -> str:
    """The bound as a sum: all that is paid, and each day's least."""
    least = [min(0.0, bound.least) for bound in bounds]
    return " ".join([_number(total), *(f"- {_number(-one)}" for one in least)])


def require_tiny(problem: Problem, model: Model) -> None:
    """Raise ``TooMuchError`` where a page would not hold the week, or where more than driving is asked."""
    if max(len(day.nodes) for day in model.days) - 2 > MOST_VISITS:
        raise TooMuchError(f"More than {MOST_VISITS} visits are possible on a day; this walk is for a tiny week.")
    if model.uses_wishes or model.current_sessions or any(one.sessions != 1 for one in problem.services):
        raise TooMuchError(
            "This walk takes a week without wishes and without a week in force, each service owed once."
        )


def walk(problem: Problem) -> Iterator[str]:
    """The lines of the walk. Raises ``TooMuchError`` where the week asks for more than it can show."""
    model = build_model(problem)
    require_tiny(problem, model)
    return WeekTour(model).lines()


def main(arguments: Sequence[str], say: Callable[[str], object] = print) -> int:
    """Walk through the week of a file; 0, or 2 with a sentence where that can't be done."""
    if len(arguments) != 1:
        say(USAGE)
        return 2
    try:
        problem = problem_from_json(json_from_bytes(Path(arguments[0]).read_bytes()))
        for line in walk(problem):
            say(line)
    except (OSError, ValueError) as error:
        say(f"{arguments[0]}: {error}")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
