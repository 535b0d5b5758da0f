"""The tour of one day as a circuit with times, for a constraint solver: windows of any width, lunch left out.

A traveling salesman problem with time windows (E. K. Baker, 1983, Operations Research 31, has the model with times;
from memory) over one vertex for each service and place, and one for each fixed visit; the day's two ends are the
vertex where the circuit closes. Left out are lunch and where a visit lasts longer at some of its starts: what is
found is a bound for all days, and its order of visits is timed afresh.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

from jobs.later import later
from schedule.planner.week.model import DayModel, Model, Node
from schedule.planner.week.routes import Route, best_route
from schedule.planner.week.work import CIRCUIT_SECOND

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = later("ortools.sat.python.cp_model")

MOST_EFFORT = 30.0
"""Seconds of the solver's own measure."""

LOOK_EVERY = 0.1
"""Seconds between two looks at the clock."""

TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class CircuitFound:
    """A day, where one was found that can be timed with its lunch, and a bound on the driving of every day."""

    route: Route | None
    bound: int


@dataclass(frozen=True, slots=True)
class _Vertex:
    """A visit at one place: the day's nodes by their starts, and how long it lasts at least."""

    nodes: dict[int, int]
    place: int
    minutes: int
    session: bool
    services: tuple[int, ...]


def tour_by_circuit(
    model: Model, clock_left: Callable[[], float], effort_left: Callable[[], float]
) -> CircuitFound:
    """The least driving over all circuits, as far as seconds of the clock and of work allow.

    Where no circuit exists the bound is 0: then no day holds everything, and nothing is said of driving.
    """
    day = model.days[0]
    vertices = _vertices(day)
    program = _Program(model, vertices)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = min(MOST_EFFORT, effort_left() * 1e9 / CIRCUIT_SECOND)
    status = _solved(program.program, solver, clock_left)
    model.work.add(round(CIRCUIT_SECOND * solver.response_proto.deterministic_time))
    if status in {cp_model.INFEASIBLE, cp_model.MODEL_INVALID}:
        return CircuitFound(None, 0)
    bound = max(0, -int(-(solver.best_objective_bound - TOLERANCE) // 1))
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return CircuitFound(None, bound)
    return CircuitFound(best_route(day, program.visits(solver)), bound)


def _solved(program: cp_model.CpModel, solver: cp_model.CpSolver, clock_left: Callable[[], float]) -> object:
    """The status of a solution sought in a thread, which ends within a moment when the time is up."""
    with ThreadPoolExecutor(1) as pool:
        task = pool.submit(solver.solve, program)
        while wait([task], timeout=LOOK_EVERY).not_done:
            if clock_left() <= 0:
                solver.stop_search()
        return task.result()


def _vertices(day: DayModel) -> list[_Vertex]:
    """One for each service and place, and for each fixed visit; a service that is pinned has that visit only."""
    required = set(day.required)
    pinned = {service for number in required for service in day.nodes[number].services}
    found: dict[tuple[object, ...], list[int]] = {}
    for number, node in enumerate(day.nodes[1:-1], start=1):
        if number in required:
            found[("fixed", number)] = [number]
        elif node.services and not pinned & set(node.services):
            found.setdefault((node.services, node.place), []).append(number)
    return [_vertex(day, numbers) for numbers in found.values()]


def _vertex(day: DayModel, numbers: Sequence[int]) -> _Vertex:
    nodes = {day.nodes[number].start: number for number in numbers}
    first = day.nodes[min(nodes.values())]
    least = min(day.nodes[number].end - day.nodes[number].start for number in numbers)
    return _Vertex(nodes, first.place, least, first.session, first.services)


class _Program:
    """The constraint program: an arc for each visit that can follow another, a time for each visit."""

    def __init__(self, model: Model, vertices: list[_Vertex]) -> None:
        self.model = model
        self.vertices = vertices
        self.program = cp_model.CpModel()
        day = model.days[0]
        self.ends: tuple[Node, Node] = (day.nodes[0], day.nodes[-1])
        starts = [cp_model.Domain.from_values(sorted(one.nodes)) for one in vertices]
        self.times = [self.program.new_int_var_from_domain(one, "") for one in starts]
        self.left_out = [self.program.new_bool_var("") for _ in vertices]
        self.arcs: list[tuple[int, int, cp_model.IntVar]] = []
        self.cost: list[cp_model.LinearExpr] = []
        for number in range(len(vertices)):
            self._from_the_start(number)
            self._to_the_end(number)
        for before, after in permutations(range(len(vertices)), 2):
            self._follow(before, after)
        loops = [(number + 1, number + 1, out) for number, out in enumerate(self.left_out)]
        self.program.add_circuit([*self.arcs, *loops])
        self._each_once()
        self.program.minimize(cp_model.LinearExpr.sum(self.cost))

    def _arc(self, before: int, after: int, drive: int) -> cp_model.IntVar:
        taken = self.program.new_bool_var("")
        self.arcs.append((before, after, taken))
        self.cost.append(drive * taken)
        return taken

    def _from_the_start(self, number: int) -> None:
        start, one = self.ends[0], self.vertices[number]
        taken = self._arc(0, number + 1, self.model.drive[start.place][one.place])
        earliest = start.end + self.model.leg[start.place][one.place]
        self.program.add(self.times[number] >= earliest).only_enforce_if(taken)

    def _to_the_end(self, number: int) -> None:
        end, one = self.ends[1], self.vertices[number]
        taken = self._arc(number + 1, 0, self.model.drive[one.place][end.place])
        latest = end.start - self.model.leg[one.place][end.place] - one.minutes
        self.program.add(self.times[number] <= latest).only_enforce_if(taken)

    def _follow(self, before: int, after: int) -> None:
        one, other = self.vertices[before], self.vertices[after]
        apart = one.minutes + self.model.leg[one.place][other.place] + (self.model.setup if other.session else 0)
        if min(one.nodes) + apart > max(other.nodes):
            return
        taken = self._arc(before + 1, after + 1, self.model.drive[one.place][other.place])
        self.program.add(self.times[after] >= self.times[before] + apart).only_enforce_if(taken)

    def _each_once(self) -> None:
        """Every service is held at one of its places, every fixed visit is held."""
        each = list(zip(self.vertices, self.left_out, strict=True))
        for service in range(len(self.model.owed)):
            self.program.add_exactly_one(out.negated() for one, out in each if service in one.services)
        for one, out in each:
            if not one.services:
                self.program.add(out == 0)

    def visits(self, solver: cp_model.CpSolver) -> list[int]:
        """The day's nodes that the solution holds, in order of time."""
        held = [number for number, out in enumerate(self.left_out) if not solver.value(out)]
        return sorted(self.vertices[number].nodes[solver.value(self.times[number])] for number in held)
