"""What the judge counts in a finished itinerary: the value of every goal, from the written times only."""

from itertools import pairwise

from schedule.planner.problem import Day, Group, Problem, Service
from schedule.planner.result import DayPlan, GoalFigures, ItemKind, Itinerary

SAMENESS_CAP = 60
SPREAD_MINUTES = 15
BUSY = (ItemKind.SESSION, ItemKind.BLOCK, ItemKind.DRIVE, ItemKind.LUNCH, ItemKind.SETUP)
VISITS = (ItemKind.SESSION, ItemKind.BLOCK)


def sessions_held(problem: Problem, plan: Itinerary) -> dict[str, list[tuple[int, int, str | None]]]:
    """(day index, minute, place) of each session that covers a service."""
    held: dict[str, list[tuple[int, int, str | None]]] = {service.id: [] for service in problem.services}
    for index, day in enumerate(plan.days):
        for item in day.of_kind(ItemKind.SESSION):
            if item.unit is None or not problem.has_unit(item.unit):
                continue
            unit = problem.unit(item.unit)
            for member in unit.members if isinstance(unit, Group) else (unit.id,):
                held[member].append((index, item.start, item.place))
    return {service: sorted(sessions, key=lambda one: one[:2]) for service, sessions in held.items()}


def figures(problem: Problem, plan: Itinerary) -> GoalFigures:
    """The value of every goal, as the written itinerary has it."""
    held = sessions_held(problem, plan)
    return GoalFigures(
        unplaced=sum(
            max(0, service.sessions - len(held[service.id])) * service.minutes * service.weight
            for service in problem.services
        ),
        wishes=wishes_missed(problem, plan),
        driving=sum(item.drive_minutes for day in plan.days for item in day.of_kind(ItemKind.DRIVE)),
        change=_sessions_moved(problem, held),
        sameness=sum(_sameness(problem, service, held[service.id], plan) for service in problem.services),
    )


def wishes_missed(problem: Problem, plan: Itinerary) -> int:
    """Minutes of preparation short, by day and over the horizon, and minutes over the longest stretch."""
    missed = 0
    total = 0
    for day in plan.days:
        asked = problem.day(day.day)
        prepared = preparation_minutes(problem, day)
        total += prepared
        missed += max(0, asked.preparation_minutes - prepared) + _over_longest_stretch(problem, asked, day)
    if problem.preparation is not None:
        missed += max(0, problem.preparation.minutes - total)
    return missed


def _free_pieces(asked: Day, day: DayPlan) -> list[tuple[int, int]]:
    """What is left of the contract day between sessions, blocks, drives, lunch and setting up."""
    busy = sorted(day.of_kind(*BUSY), key=lambda item: (item.start, item.end))
    pieces: list[tuple[int, int]] = []
    at = asked.start
    for item in busy:
        if item.start > at:
            pieces.append((at, item.start))
        at = max(at, item.end)
    if at < asked.end:
        pieces.append((at, asked.end))
    return pieces


def preparation_minutes(problem: Problem, day: DayPlan) -> int:
    """Free minutes of the day in pieces of at least the smallest block."""
    smallest = problem.preparation.smallest_block if problem.preparation else 1
    pieces = _free_pieces(problem.day(day.day), day)
    return sum(end - start for start, end in pieces if end - start >= smallest)


def _over_longest_stretch(problem: Problem, asked: Day, day: DayPlan) -> int:
    """Minutes by which runs of visits, drives between them included, exceed the longest stretch."""
    wish = problem.longest_stretch
    visits = sorted(day.of_kind(*VISITS), key=lambda item: item.start)
    if wish is None or not visits:
        return 0
    breaks = [piece for piece in _free_pieces(asked, day) if piece[1] - piece[0] >= wish.break_minutes]
    breaks += [(item.start, item.end) for item in day.of_kind(ItemKind.LUNCH)]
    over, begin = 0, visits[0].start
    for before, after in pairwise(visits):
        if any(before.end <= start and end <= after.start for start, end in breaks):
            over += max(0, before.end - begin - wish.minutes)
            begin = after.start
    return over + max(0, visits[-1].end - begin - wish.minutes)


def _sessions_moved(problem: Problem, held: dict[str, list[tuple[int, int, str | None]]]) -> int:
    """Sessions of the week in force, of services that still exist, not held at that day, time and place."""
    in_force: set[tuple[int, int, str, str]] = set()
    for session in problem.current or ():
        if not problem.has_unit(session.unit):
            continue
        index = [day.id for day in problem.days].index(session.day) if _has_day(problem, session.day) else -1
        unit = problem.unit(session.unit)
        for member in unit.members if isinstance(unit, Group) else (unit.id,):
            in_force.add((index, session.at, session.place, member))
    return sum((index, at, place) not in held[member] for index, at, place, member in in_force)


def _has_day(problem: Problem, day: str) -> bool:
    return any(one.id == day for one in problem.days)


def _sameness(
    problem: Problem, service: Service, sessions: list[tuple[int, int, str | None]], plan: Itinerary
) -> int:
    """Minutes off the usual time (or off the service's own median), and bunching of its days."""
    ideal = max(1, len(problem.days) // max(1, service.sessions))
    days = [index for index, _, _ in sessions]
    bunched = sum(max(0, ideal - (b - a)) for a, b in pairwise(days)) * SPREAD_MINUTES
    if service.usual:
        return bunched + sum(_off_usual(problem, service, plan, one) for one in sessions)
    minutes = sorted(at for _, at, _ in sessions)
    median = minutes[(len(minutes) - 1) // 2] if minutes else 0
    return bunched + sum(min(SAMENESS_CAP, abs(at - median)) for at in minutes)


def _off_usual(problem: Problem, service: Service, plan: Itinerary, session: tuple[int, int, str | None]) -> int:
    """Minutes between a session and the nearest usual time of its pattern key, 60 at most."""
    index, at, place = session
    day = plan.days[index]
    unit = _unit_of(problem, service, day, at, place)
    keys = {s.pattern_key for s in unit.starts if (s.day, s.at, s.place) == (day.day, at, place)}
    open_then = [w for w in unit.windows if (w.day, w.place) == (day.day, place) and w.earliest <= at <= w.latest]
    keys |= {window.pattern_key for window in open_then}
    away = [abs(minute - at) for key, minute in service.usual if key in keys]
    return min([*away, SAMENESS_CAP])


def _unit_of(problem: Problem, service: Service, day: DayPlan, at: int, place: str | None) -> Service | Group:
    """The service or group that a session of a service was held as."""
    return next(
        problem.unit(item.unit)
        for item in day.of_kind(ItemKind.SESSION)
        if item.unit is not None
        and (item.start, item.place) == (at, place)
        and problem.has_unit(item.unit)
        and service.id in problem.members(item.unit)
    )
