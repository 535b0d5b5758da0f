"""What to ask for: single favours that would place more or save driving, each granted, solved again and priced.

A favour opens starts that one rule bars (a space is freed, a time kept for a student is moved), or moves what a
class does on one day to another. Cheap screening first: every favour is tried by insertion into the plan as it
stands. Then the best are granted in the problem, which is solved again: what is said of a favour is what came out.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.check import check
from schedule.planner.explain import state_of
from schedule.planner.model import build_model
from schedule.planner.problem import Barred, Goal, Group, Problem, Service, Start
from schedule.planner.result import Figures, Plan, Result, Status
from schedule.planner.solve import solve
from schedule.planner.state import State
from schedule.planner.times import clock

MOST_SOLVED = 40
MOST_SECONDS = 240.0
SECONDS_A_SOLVE = 10.0
SECONDS_FOR_BASE = 30.0
NOTHING_FITS = (1, 0)
SPACE_CODES = frozenset({"space_not_free", "space_in_use"})
HELD = "student_held"
CLASS_MOVED = "class_moved"

type Moment = Callable[[str, str, int], str]
"""(day id, place id, minute) in words, such as "in period 4"."""


@dataclass(frozen=True, slots=True)
class MovableClass:
    """Services that are held inside the own time of a class, and the days that it could meet on instead."""

    name: str
    services: tuple[str, ...]
    days: tuple[str, ...]
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Favour:
    """One thing to ask for. ``opened`` are the starts that each unit gains, ``closed`` those that it loses.

    ``what`` is the condition in words without a full stop: "If the gym at North School were free on ...".
    """

    code: str
    what: str
    ask: str
    place: str
    day: str
    at: int
    opened: tuple[tuple[str, Start], ...] = field(repr=False)
    closed: tuple[tuple[str, Start], ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True)
class Priced:
    """A favour that was granted and solved again, beside the best week without it.

    ``minutes_placed``: owed minutes more (times the weight of their services); ``wishes_met``: minutes less that
    the contract's wishes miss; ``drive_saved``: minutes less at the wheel, negative where placing more costs some.
    ``proved``: both weeks are the best there are, so the difference is exact.
    """

    favour: Favour
    minutes_placed: int
    wishes_met: int
    drive_saved: int
    everything_fits: bool
    proved: bool
    text: str

    @property
    def worth(self) -> tuple[int, int, int]:
        """More is better: what is placed, then what is wished, then driving."""
        return self.minutes_placed, self.wishes_met, self.drive_saved


@dataclass(frozen=True, slots=True)
class Favours:
    """Favours that would help, the best first. ``possible`` were thought of, ``tried`` were solved."""

    base: Figures | None
    priced: tuple[Priced, ...]
    possible: int
    tried: int
    stopped: bool

    def best_of_places(self) -> tuple[Priced, ...]:
        """The one favour worth the most from each place, the best first."""
        found: dict[str, Priced] = {}
        for one in self.priced:
            found.setdefault(one.favour.place, one)
        return tuple(found.values())


def find_favours(
    problem: Problem,
    *,
    classes: Sequence[MovableClass] = (),
    moment: Moment | None = None,
    known: Plan | None = None,
    seed: int = 0,
    most_solved: int = MOST_SOLVED,
    time_limit: float = MOST_SECONDS,
    workers: int = 2,
    progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Favours:
    """The single favours that better the week, with their prices. ``known`` is a plan of it that there is already.

    At most ``most_solved`` problems are solved beside the week itself, within ``time_limit`` seconds in all;
    ``progress(done, of)`` is called after each, ``stop()`` ends with those found so far.
    """
    until = monotonic() + time_limit
    asked = _only_to_driving(problem)
    favours = favours_of(problem, classes, moment)

    def solved(one: Problem, longest: float = SECONDS_A_SOLVE) -> Result | None:
        seconds = min(longest, until - monotonic())
        if seconds <= 0 or (stop is not None and stop()):
            return None
        return solve(one, seed=seed, time_limit=seconds, workers=workers, stop=stop)

    base = solved(asked, SECONDS_FOR_BASE)
    if base is None or base.plan is None or base.figures is None:
        return Favours(None, (), len(favours), 0, True)
    base = or_known(asked, base, known)
    order = screened(asked, base.plan, favours) if base.plan is not None else favours
    answers: list[tuple[Favour, Result]] = []
    stopped = len(order) > most_solved
    for favour in order[:most_solved]:
        result = solved(granted(asked, favour))
        if result is None:
            stopped = True
            break
        answers.append((favour, result))
        if progress is not None:
            progress(len(answers), min(len(order), most_solved))
    base = _best_base(asked, base, answers)
    found = (price(asked, favour, base, result) for favour, result in answers)
    priced = sorted(
        (one for one in found if one is not None), key=lambda one: (*(-part for part in one.worth), one.text)
    )
    return Favours(base.figures, tuple(priced), len(favours), len(answers), stopped)


def or_known(problem: Problem, base: Result, known: Plan | None) -> Result:
    """The week at hand where it is better than what the search found in its time."""
    verdict = check(problem, known) if known is not None else None
    if verdict is None or not verdict.holds or base.figures is None:
        return base
    if verdict.figures.in_order(problem.goals) >= base.figures.in_order(problem.goals):
        return base
    return replace(base, plan=known, figures=verdict.figures, status=Status.FEASIBLE)


def _best_base(problem: Problem, base: Result, answers: Sequence[tuple[Favour, Result]]) -> Result:
    """The best week without a favour: one found with a favour that it doesn't use is one too.

    It matters only where the search ran out of time; without it a lucky search would pass for a favour's worth.
    """
    for favour, result in answers:
        if base.figures is None or result.figures is None or result.plan is None or _used(favour, result.plan):
            continue
        if result.figures.in_order(problem.goals) < base.figures.in_order(problem.goals):
            base = replace(result, status=Status.FEASIBLE)
    return base


def _used(favour: Favour, plan: Plan) -> bool:
    opened = {(unit, start.day, start.at, start.place) for unit, start in favour.opened}
    return any((one.unit, one.day, one.at, one.place) in opened for one in plan.sessions)


def _only_to_driving(problem: Problem) -> Problem:
    """The goals up to driving, in the problem's order: what comes after has no price in minutes."""
    goals = problem.goals
    last = goals.index(Goal.DRIVING) if Goal.DRIVING in goals else 0
    kept = tuple(goal for goal in goals[: last + 1] if goal not in {Goal.CHANGE, Goal.SAMENESS})
    return replace(problem, goals=kept if Goal.DRIVING in kept else (*kept, Goal.DRIVING), current=None)


def granted(problem: Problem, favour: Favour) -> Problem:
    """The problem as it would be if the favour were granted."""
    return replace(
        problem,
        services=tuple(replace(one, starts=_starts_with(one, favour)) for one in problem.services),
        groups=tuple(replace(one, starts=_starts_with(one, favour)) for one in problem.groups),
    )


def _starts_with(unit: Service | Group, favour: Favour) -> tuple[Start, ...]:
    lost = {start for one, start in favour.closed if one == unit.id}
    gained = tuple(start for one, start in favour.opened if one == unit.id)
    return tuple(start for start in unit.starts if start not in lost) + gained


# ---- what could be asked for -----------------------------------------------------------------------------


def favours_of(problem: Problem, classes: Sequence[MovableClass], moment: Moment | None = None) -> list[Favour]:
    """Every single favour, in a settled order. A space freed at a moment serves every service that it bars then."""
    words = moment or (lambda day, place, at: f"at {clock(at)}")
    return [*_barred_favours(problem, words), *_class_favours(problem, classes)]


def _barred_favours(problem: Problem, words: Moment) -> list[Favour]:
    found: dict[tuple[str, ...], list[tuple[str, Barred]]] = {}
    owed = [one for one in problem.services if one.sessions > 0]
    for service in owed:
        for barred in service.barred:
            found.setdefault(_key(barred, words), []).append((service.id, barred))
    return [_barred_favour(problem, rows, words) for _, rows in sorted(found.items())]


def _key(barred: Barred, words: Moment) -> tuple[str, ...]:
    """Bars that one favour lifts have one key."""
    if barred.reason_code in SPACE_CODES:
        space = barred.space or ""
        return "space", barred.day, barred.place, space, words(barred.day, barred.place, barred.at), barred.ask
    if barred.reason_code == HELD:
        return HELD, barred.day, barred.place, barred.text, "", barred.ask
    return barred.reason_code, barred.day, barred.place, barred.text, f"{barred.at:04d}", barred.ask


def _barred_favour(problem: Problem, rows: Sequence[tuple[str, Barred]], words: Moment) -> Favour:
    first = min((barred for _, barred in rows), key=lambda one: one.at)
    opened = tuple((service, Start(b.day, b.at, b.place, b.space, None, b.minutes)) for service, b in rows)
    day, where = problem.name_of_day(first.day), problem.name_of_place(first.place)
    when = words(first.day, first.place, first.at)
    if first.reason_code in SPACE_CODES and first.space:
        what = f"If {first.space} at {where} were free {when} on {day}"
    elif first.reason_code == HELD:
        what = f"If the time kept free on {day} at {where} were moved (now: {first.text})"
    else:
        what = f"If {day} {when} at {where} could be used (now: {first.text})"
    return Favour(first.reason_code, what, first.ask, first.place, first.day, first.at, opened)


def _class_favours(problem: Problem, classes: Sequence[MovableClass]) -> list[Favour]:
    found: list[Favour] = []
    pinned = {(pin.unit, pin.day) for pin in problem.pins}
    for one in classes:
        mine: list[Service | Group] = [
            unit for unit in problem.services if unit.id in one.services and unit.sessions
        ]
        mine += [group for group in problem.groups if set(group.members) <= set(one.services)]
        held = {start.day for unit in mine for start in unit.starts}
        for origin in sorted(held, key=problem.day_index):
            if any((unit.id, origin) in pinned for unit in mine):
                continue
            found.extend(_class_moved(problem, one, mine, origin, to) for to in one.days if to not in held)
    return found


def _class_moved(
    problem: Problem, one: MovableClass, mine: Sequence[Service | Group], origin: str, to: str
) -> Favour:
    closed = tuple((unit.id, start) for unit in mine for start in unit.starts if start.day == origin)
    opened = tuple((unit, replace(start, day=to, pattern_key=None)) for unit, start in closed)
    first = closed[0][1]
    what = f"If {one.name} met on {problem.name_of_day(to)} instead of {problem.name_of_day(origin)}"
    return Favour(CLASS_MOVED, what, one.ask, first.place, to, first.at, opened, closed)


# ---- screening -------------------------------------------------------------------------------------------


def screened(problem: Problem, plan: Plan, favours: Sequence[Favour]) -> list[Favour]:
    """The favours in the order in which they are to be tried, judged by insertion into the plan as it stands.

    First the one that promises most of each kind and place, then the second of each, and so on: ten moments of one
    gym say less than one of each. Those by which nothing fits without a change elsewhere come last.
    """
    union = problem
    for favour in favours:
        union = granted(union, replace(favour, closed=()))
    state = state_of(build_model(union), plan)
    if state is None:
        return list(favours)
    promises = sorted((_promise(state, favour), number) for number, favour in enumerate(favours))
    seen: dict[tuple[str, str], int] = {}
    order: list[tuple[bool, int, tuple[int, int], int]] = []
    for promise, number in promises:
        kind = (favours[number].code, favours[number].place)
        seen[kind] = seen.get(kind, 0) + 1
        order.append((promise == NOTHING_FITS, seen[kind], promise, number))
    return [favours[number] for _, _, _, number in sorted(order)]


def _promise(state: State, favour: Favour) -> tuple[int, int]:
    """Less is better: minutes placed (negative), then drive minutes added."""
    numbers = {one.id: number for number, one in enumerate(state.model.problem.services)}
    best = NOTHING_FITS
    for unit, start in favour.opened:
        if unit in numbers:
            best = min(best, *_insertions(state, unit, numbers[unit], start))
    return best


def _insertions(state: State, service: str, number: int, start: Start) -> list[tuple[int, int]]:
    model = state.model
    day = model.problem.day_index(start.day)
    nodes = [node for node in state.by_service[day][number] if _is_start(state, day, node, service, start)]
    found: list[tuple[int, int]] = [NOTHING_FITS]
    for node in nodes:
        if state.missing(number) > 0:
            option = state.option(day, node)
            found += [(-model.value[number], option.route.drive - state.routes[day].drive)] if option else []
        found += _moves(state, number, day, node)
    return found


def _is_start(state: State, day: int, node: int, service: str, start: Start) -> bool:
    one = state.model.days[day].nodes[node]
    return (one.unit, one.start) == (service, start.at) and state.model.place_ids[one.place] == start.place


def _moves(state: State, number: int, day: int, node: int) -> list[tuple[int, int]]:
    """Drive minutes added if a session of the service came here from where it is now."""
    found: list[tuple[int, int]] = []
    for held_day, visits in enumerate(state.visits):
        for visit in visits:
            one = state.model.days[held_day].nodes[visit]
            if one.fixed or one.services != (number,) or (held_day, visit) == (day, node):
                continue
            trial = state.copy()
            before = sum(route.drive for route in trial.routes)
            if not trial.take_out(held_day, {visit}):
                continue
            option = trial.option(day, node)
            if option is not None:
                trial.put(option)
                found.append((0, sum(route.drive for route in trial.routes) - before))
    return found


# ---- the price -------------------------------------------------------------------------------------------


def price(problem: Problem, favour: Favour, base: Result, result: Result) -> Priced | None:
    """What the favour gives against the week without it; ``None`` where it gives nothing."""
    if base.figures is None or result.figures is None:
        return None
    minutes = base.figures.unplaced - result.figures.unplaced
    wishes = base.figures.wishes - result.figures.wishes
    driving = base.figures.driving - result.figures.driving
    if (minutes, wishes, driving) <= (0, 0, 0):
        return None
    fits = minutes > 0 and result.figures.unplaced == 0
    proved = base.status is Status.OPTIMAL and result.status is Status.OPTIMAL
    effects = _effects(minutes, wishes, driving, fits)
    return Priced(favour, minutes, wishes, driving, fits, proved, f"{favour.what}: {effects}.")


def _effects(minutes: int, wishes: int, driving: int, fits: bool) -> str:
    parts: list[str] = []
    if fits:
        parts.append("everything fits")
    elif minutes > 0:
        parts.append(f"{_of(minutes)} more of what is owed are placed")
    if wishes > 0:
        parts.append(f"the contract's wishes are met by {_of(wishes)} more")
    if wishes < 0:
        parts.append(f"the contract's wishes are missed by {_of(-wishes)} more")
    if driving > 0:
        parts.append(f"{_of(driving)} of driving less a week")
    if driving < 0:
        parts.append(f"with {_of(-driving)} of driving more")
    return ", ".join(parts)


def _of(minutes: int) -> str:
    return "1 minute" if minutes == 1 else f"{minutes} minutes"
