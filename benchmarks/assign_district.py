"""Who serves whom in generated districts: proposals beside nearest base, k-medoids and a vehicle-routing library.

Run: ``python -m benchmarks.assign_district`` (``--small``: 3 teachers and 12 buildings).
Each assignment is priced alike: every teacher's week timed in the planner's day model and judged.
One line each: minutes unplaced, preparation missed, minutes driven a week, driving less than nearest base in
hundredths, spread of loads, students kept, teachers a building, processor seconds.

- *nearest base*: the plain way (``nearest.py``), with time left counted so that everything is placed if it can be.
- *k-medoids*: buildings in as many compact groups as teachers, each group to a teacher so that bases are near (the
  assignment problem), bundles moved to the next nearest medoid where time runs out.
- *PyVRP*: one vehicle a teacher and day, one client a session, homes as depots, time of a day as its capacity; the
  teacher with most of a student's sessions has the student. It doesn't know that a student keeps one teacher.
"""

import argparse
import sys
import time
from collections import Counter
from itertools import permutations
from pathlib import Path

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import pyvrp
from pyvrp.stop import MaxIterations
from scipy.optimize import linear_sum_assignment

from benchmarks.assign_ground import SMALL, DistrictShape, generate_district
from benchmarks.assign_pieces import proposals_by_pieces
from schedule.planner.assign.answer import Favoring, Proposal
from schedule.planner.assign.nearest import nearest_base, room_of
from schedule.planner.assign.propose import USUAL, price, propose
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.spread import WantedProposal

USABLE = (0.9, 0.82, 0.75)
"""Shares of time tried for the plain ways, from the most loaded on; the best by unplaced minutes, then driving."""


PRICING = 0.5
"""Seconds of work for each teacher's week of the other ways."""


def medoids(question: Staffing, usable: float) -> dict[str, str]:
    """Buildings grouped around as many of them as there are teachers, by swaps until none is better."""
    places = [one.place.id for one in question.sites]
    drive = {one: {to: question.drive_minutes[one].get(to, 0) for to in places} for one in places}
    weight = Counter[str]()
    for service in question.services:
        weight[service.place] += service.sessions
    chosen = _swapped(drive, weight, len(question.teachers))
    cost = [[question.drive_minutes[one.base][medoid] for medoid in chosen] for one in question.teachers]
    rows, columns = linear_sum_assignment(cost)
    medoid_of = {question.teachers[t].id: chosen[m] for t, m in zip(rows, columns, strict=True)}
    room = {one.id: usable * room_of(one) for one in question.teachers}
    found: dict[str, str] = {}
    for service in sorted(question.services, key=lambda one: (one.place, one.id)):
        keepers = [one.id for one in question.teachers if one.keeps & set(service.students)]
        near = sorted(keepers or medoid_of, key=lambda who: drive[medoid_of[who]][service.place])
        who = next((one for one in near if room[one] >= service.week_minutes), near[0])
        share = sum(drive[medoid_of[who]][service.place] for _ in range(service.sessions)) / 4
        room[who] -= service.week_minutes + share
        found[service.id] = who
    return found


def _swapped(drive: dict[str, dict[str, int]], weight: Counter[str], count: int) -> list[str]:
    """Partitioning around medoids (L. Kaufman and P. Rousseeuw 1990): the first better swap, again and again."""

    def value(chosen: list[str]) -> int:
        return sum(weight[place] * min(drive[one][place] for one in chosen) for place in drive)

    chosen = sorted(drive, key=lambda one: -weight[one])[:count]
    best, is_better = value(chosen), True
    while is_better:
        is_better = False
        for n in range(count):
            for place in sorted(drive.keys() - set(chosen)):
                trial = [*chosen[:n], place, *chosen[n + 1 :]]
                if (found := value(trial)) < best:
                    chosen, best, is_better = trial, found, True
    return chosen


def by_routes(question: Staffing, iterations: int, seed: int) -> dict[str, str]:
    """A vehicle-routing problem of all sessions and teachers' days, then students to whom has most of them."""
    model = pyvrp.Model()
    at = {one.id: model.add_location(0, 0) for one in question.places}
    depots = {one.base: model.add_depot(at[one.base]) for one in question.teachers}
    sessions = [one for one in question.services for _ in range(one.sessions)]
    for one in sessions:
        model.add_client(at[one.place], service_duration=one.minutes)
    for teacher in question.teachers:
        day, depot = room_of(teacher) // len(teacher.days), depots[teacher.base]
        model.add_vehicle_type(len(teacher.days), start_depot=depot, end_depot=depot, shift_duration=day)
    for origin, to in permutations(question.places, 2):
        minutes = question.drive_minutes[origin.id][to.id]
        model.add_edge(at[origin.id], at[to.id], minutes, minutes + origin.leave_minutes + to.arrive_minutes)
    result = model.solve(MaxIterations(iterations), seed=seed, display=False)
    votes: dict[str, Counter[str]] = {}
    for route in result.best.routes():
        who = question.teachers[route.vehicle_type()].id
        for activity in route:
            if activity.is_client():
                votes.setdefault(sessions[activity.idx].id, Counter())[who] += 1
    found = {one: min(count, key=lambda who: (-count[who], who)) for one, count in votes.items()}
    kept = {student: one.id for one in question.teachers for student in one.keeps}
    return {one.id: kept.get(one.students[0], found[one.id]) for one in question.services}


def best_of(question: Staffing, found: list[dict[str, str]]) -> Proposal:
    """The best by minutes placed, then driving."""
    priced = [price(question, one, effort=PRICING) for one in found]
    return min(priced, key=lambda one: (one.figures.unplaced, one.figures.short, one.figures.driving))


def line(name: str, found: Proposal, plain: Proposal, seconds: float) -> str:
    """One assignment."""
    figures = found.figures
    shares = [round(100 * one.share) for one in found.loads]
    less = 100 * (1 - figures.driving / plain.figures.driving)
    return (
        f"  {name:15} unplaced {figures.unplaced:4} short {figures.short:3} driving {figures.driving:5} "
        f"less {less:5.1f} % load spread {max(shares) - min(shares):3} kept {figures.kept}/{figures.could_keep} "
        f"teachers a building {figures.teachers_a_place:.2f} seconds {seconds:.1f}"
    )


def nearest(question: Staffing) -> Proposal:
    """The plain way, printed."""
    began = time.process_time()
    plain = best_of(question, [nearest_base(question, usable=share) for share in USABLE])
    print(line("nearest base", plain, plain, time.process_time() - began), flush=True)
    return plain


def others(question: Staffing, plain: Proposal, iterations: int) -> None:
    """The other ways on one district."""
    began = time.process_time()
    found = best_of(question, [medoids(question, share) for share in USABLE])
    print(line("k-medoids", found, plain, time.process_time() - began), flush=True)
    began = time.process_time()
    found = price(question, by_routes(question, iterations, 0), effort=PRICING)
    print(line("PyVRP", found, plain, time.process_time() - began), flush=True)


def proposed(question: Staffing, plain: Proposal, effort: float, kinds: tuple[Favoring, ...], seed: int) -> None:
    """Proposals of some kinds, in the pieces in which workers share them; the seconds are those of all together."""
    began = time.process_time()
    wanted = [WantedProposal(one.value, question, one, effort / len(kinds), seed) for one in kinds]
    found = proposals_by_pieces(wanted)
    for name, one in found.items():
        print(line(name, one, plain, time.process_time() - began), flush=True)


def unshared(question: Staffing, plain: Proposal, effort: float, kinds: tuple[Favoring, ...], seed: int) -> None:
    """The same as one search that can't be shared; the seconds of each include those before it."""
    began = time.process_time()
    for one in propose(question, effort=effort, seed=seed, favoring=kinds):
        print(line(f"{one.favoring.value}, alone", one, plain, time.process_time() - began), flush=True)


def main() -> None:
    """Districts one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--districts", type=int, default=2)
    parser.add_argument("--first", type=int, default=0, help="the first district's seed")
    parser.add_argument("--seeds", type=int, default=1, help="proposals of each kind, with other numbers drawn")
    parser.add_argument("--only", type=Favoring, choices=USUAL, help="one kind, beside nearest base")
    parser.add_argument("--effort", type=float, default=30.0)
    parser.add_argument("--iterations", type=int, default=300)
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--one-piece", action="store_true", help="the search in one piece, too")
    asked = parser.parse_args()
    shape = SMALL if asked.small else DistrictShape()
    kinds = (asked.only,) if asked.only else USUAL
    for number in range(asked.first, asked.first + asked.districts):
        print(f"district {number}: {shape}", flush=True)
        question = generate_district(shape, number)
        plain = nearest(question)
        if not asked.only:
            others(question, plain, asked.iterations)
        for seed in range(asked.seeds):
            proposed(question, plain, asked.effort, kinds, seed)
            if asked.one_piece:
                unshared(question, plain, asked.effort, kinds, seed)


if __name__ == "__main__":
    main()
