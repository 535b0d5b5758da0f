"""The plain week chosen among all near its least driving, each day weighed by what it costs over the term.

Every day that a plain week within some minutes of its least driving can hold is listed (the enumeration of
``proving.exact``). A day then costs what its sessions drive in every kind of week of the term: without those that
haven't begun or have ended there, and with a charge for each that the calendar forces to another day. The choice
among these days is one integer problem (``proving.choice``).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from schedule.planner.problem import Goal, Problem
from schedule.planner.proving.choice import Limits, RouteChoice
from schedule.planner.proving.columns import DayGraph, PricedRoutes
from schedule.planner.proving.exact import ENUMERATED, MOST_NODES, Exact
from schedule.planner.proving.master import Question
from schedule.planner.proving.proof import Settled
from schedule.planner.result import Itinerary
from schedule.planner.term.choice.exchange import ListedDay
from schedule.planner.term.expected import standing_session
from schedule.planner.term.shared import WISH_MINUTE, AlikeWeeks
from schedule.planner.term.term import StandingSession
from schedule.planner.week.floors import floor_of
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import DayModel
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route, best_route
from schedule.planner.week.takeover import state_of
from schedule.planner.week.work import Work

WIDTHS = (6.0, 3.0, 1.0, 0.0)
"""Minutes above the least driving up to which days are listed: the first that leaves few enough."""

MOST_DAYS = 12_000
DISPLACED = 5
"""Minutes of driving charged for a session that has to go to another day."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Timetables, the cheapest last, and the days listed for them with what each costs over the term."""

    timetables: tuple[tuple[StandingSession, ...], ...] = ()
    days: tuple[ListedDay, ...] = ()


def weighed_week(
    problem: Problem,
    plan: Itinerary,
    kinds: Sequence[AlikeWeeks],
    *,
    workers: int,
    effort: float,
    work: Work,
    clock_left: Callable[[], float],
) -> Weighed:
    """Timetables made of ``plan`` (the plain week at its best) and of better ones over the term, cheapest last.

    ``effort``: seconds of work at most, which is counted in ``work``.
    """
    model = build_model(problem)
    model.work = work
    until = work.seconds + effort

    def remaining() -> float:
        return max(0.0, min(until - work.seconds, clock_left()))

    state = state_of(model, plan)
    if state is None:
        return Weighed()
    exact = Exact(model, workers, remaining, lambda _: None, lambda _: None, clock_left=clock_left, by_work=True)
    figures = state.figures
    held = {Goal.UNPLACED: figures.unplaced, Goal.WISHES: figures.wishes}
    proof = exact.prove(Goal.DRIVING, held, list(state.routes), floor_of(model, Goal.DRIVING))
    found = [_standing(model.days, proof.routes)]
    if exact.settled is None or remaining() <= 0:
        return Weighed(tuple(found))
    question = Question(Goal.DRIVING, held)
    routes = _near(exact, exact.settled, question)
    costs = {route: _cost(model.days[route.day], route, kinds) for route in [*routes, *proof.routes]}
    weighed = {replace(route, drive=cost): route for route, cost in costs.items()}
    limits = Limits(clock_left(), MOST_NODES, lambda: clock_left() <= 0, remaining())
    chosen = RouteChoice(model, question, list(weighed)).best(limits, float("inf"))
    if chosen.routes is not None:
        best = [weighed[route] for route in chosen.routes]
        if figures_of(model, best).unplaced <= figures.unplaced:
            found.append(_standing(model.days, best))
    listed = (ListedDay(one.day, tuple(sessions_of(model.days[one.day], one)), costs[one]) for one in routes)
    return Weighed(tuple(found), tuple(listed))


def _near(exact: Exact, settled: Settled, question: Question) -> list[Route]:
    """The days of every plain week within a width of the least driving."""
    root = settled.root
    for width in WIDTHS:

        def one_day(graph: DayGraph, more: float = width) -> PricedRoutes:
            day = graph.day.index
            gap = settled.width + more + root.least[day]
            bound = graph.bounded(root.weights[day], root.shares[day], gap, no_miss=question.no_miss)
            if not bound.suffixes.complete:
                return PricedRoutes([], complete=False)
            return graph.enumerate_below(bound, gap, no_miss=question.no_miss, max_labels=ENUMERATED)

        days = exact.walkers.each(one_day)
        found = [route for priced in days for route in priced.routes]
        if len(found) <= MOST_DAYS and all(priced.complete for priced in days):
            return found
    return []


def _standing(days: Sequence[DayModel], routes: Sequence[Route]) -> tuple[StandingSession, ...]:
    return tuple(one for route in routes for one in sessions_of(days[route.day], route))


def sessions_of(day: DayModel, route: Route) -> list[StandingSession]:
    """A day's sessions as standing ones."""
    keys = {
        (unit, start.at, start.place): start.pattern_key or ""
        for unit in {day.nodes[n].unit for n in route.visits} - {None}
        for start in day.model.problem.starts_of(unit or "")
        if start.day == day.day.id
    }
    found: list[StandingSession] = []
    for node in (day.nodes[n] for n in route.visits):
        if node.unit is not None:
            place = day.model.place_ids[node.place]
            found.append(StandingSession(node.unit, keys[node.unit, node.start, place], node.start, place))
    return found


def standing_sessions(problem: Problem, plan: Itinerary) -> tuple[StandingSession, ...]:
    """The sessions of a plan as standing ones, spaces left aside."""
    return tuple(replace(standing_session(problem, one), space=None) for one in plan.sessions)


def _cost(day: DayModel, route: Route, kinds: Sequence[AlikeWeeks]) -> int:
    """Minutes that the day's sessions drive over the term."""
    sessions = sessions_of(day, route)
    return sum(kind.count * _cost_in(kind, sessions) for kind in kinds)


def _cost_in(kind: AlikeWeeks, sessions: Sequence[StandingSession]) -> int:
    days: dict[int, list[int]] = {}
    displaced = 0
    for session in sessions:
        nodes = kind.nodes.get(session, ())
        displaced += not nodes and kind.week.problem.has_unit(session.unit)
        for day, node in nodes:
            days.setdefault(day, []).append(node)
    cost = DISPLACED * displaced
    for number, visits in days.items():
        route = best_route(kind.model.days[number], sorted(visits))
        if route is None:
            cost += DISPLACED * len(visits)
        else:
            cost += route.drive + WISH_MINUTE * route.missed
    return cost
