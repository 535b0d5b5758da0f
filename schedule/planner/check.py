"""The judge: reads a finished itinerary line by line and says which rules it breaks and what it costs.

It shares no code with the search: it looks at the written times only and works nothing out for the plan.
Every plan passes it before it is shown or saved. One function for each rule.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.problem import Day, Group, Problem, Service, Window
from schedule.planner.result import DayPlan, GoalFigures, Item, ItemKind, Itinerary
from schedule.planner.times import clock

SAMENESS_CAP = 60
SPREAD_MINUTES = 15
BUSY = (ItemKind.SESSION, ItemKind.BLOCK, ItemKind.DRIVE, ItemKind.LUNCH, ItemKind.SETUP)
VISITS = (ItemKind.SESSION, ItemKind.BLOCK)


@dataclass(frozen=True, slots=True)
class Violation:
    """A broken rule: its name, the day (or ``""``), and a sentence."""

    rule: str
    day: str
    text: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the judge found. ``figures`` are worth reading only where ``violations`` is empty."""

    violations: tuple[Violation, ...]
    figures: GoalFigures

    @property
    def holds(self) -> bool:
        """Whether every hard rule holds."""
        return not self.violations


def check(problem: Problem, plan: Itinerary) -> Verdict:
    """Judge a plan. Never raises for a bad plan: what is wrong is in the verdict."""
    found: list[Violation] = []
    if [day.day for day in plan.days] != [day.id for day in problem.days]:
        found.append(Violation("days", "", "The plan doesn't hold the problem's days in their order."))
        return Verdict(tuple(found), GoalFigures(0, 0, 0, 0, 0))
    for day in plan.days:
        found.extend(day_violations(problem, day))
    found.extend(horizon_violations(problem, plan))
    return Verdict(tuple(found), _figures(problem, plan))


def day_violations(problem: Problem, day: DayPlan) -> tuple[Violation, ...]:
    """The rules of one day that it breaks: what ``check`` says of it, whatever the other days are."""
    return tuple(Violation(_name(rule), day.day, text) for rule in DAY_RULES for text in rule(problem, day))


def horizon_violations(problem: Problem, plan: Itinerary) -> tuple[Violation, ...]:
    """The rules of the whole horizon that a plan breaks."""
    return tuple(Violation(_name(rule), "", text) for rule in WEEK_RULES for text in rule(problem, plan))


def _name(rule: Callable[..., object]) -> str:
    return getattr(rule, "__name__", "").replace("_", " ")


# ---- rules of one day ------------------------------------------------------------------------------------


def one_thing_at_a_time(problem: Problem, day: DayPlan) -> list[str]:
    """Nothing overlaps: sessions, blocks, drives, lunch, setting up, preparation."""
    ordered = sorted(day.items, key=lambda item: (item.start, item.end))
    return [
        f"{_opening(problem, a)} lasts until {clock(a.end)}, but {_what(problem, b)} begins at {clock(b.start)}."
        for a, b in pairwise(ordered)
        if a.end > b.start
    ]


def inside_the_contract_day(problem: Problem, day: DayPlan) -> list[str]:
    """Everything, drives from and to the ends of the day too, lies inside the contract day."""
    asked = problem.day(day.day)
    return [
        f"{_opening(problem, item)}, {clock(item.start)} to {clock(item.end)}, lies outside the contract day, "
        f"{clock(asked.start)} to {clock(asked.end)}."
        for item in day.items
        if item.start < asked.start or item.end > asked.end
    ]


def only_at_its_starts(problem: Problem, day: DayPlan) -> list[str]:
    """A session begins only at one of its starts or in a window, in that building and space, at full length."""
    wrong: list[str] = []
    for item in day.of_kind(ItemKind.SESSION):
        if item.unit is None or not problem.has_unit(item.unit):
            wrong.append(f"There is no service or group {item.unit!r}.")
            continue
        unit = problem.unit(item.unit)
        at_a_start = any(_matches(unit, day.day, item, index) for index in range(len(unit.starts)))
        if not at_a_start and not any(_inside(unit, day.day, item, window) for window in unit.windows):
            wrong.append(f"{problem.name_of_unit(item.unit)} can't begin at {clock(item.start)} there.")
    return wrong


def _matches(unit: Service | Group, day: str, item: Item, index: int) -> bool:
    start = unit.starts[index]
    length = unit.minutes if start.minutes is None else start.minutes
    where = (start.day, start.at, start.place, start.space) == (day, item.start, item.place, item.space)
    return where and item.end - item.start == length


def _inside(unit: Service | Group, day: str, item: Item, window: Window) -> bool:
    length = unit.minutes if window.minutes is None else window.minutes
    where = (window.day, window.place, window.space) == (day, item.place, item.space)
    return where and window.earliest <= item.start <= window.latest and item.end - item.start == length


def blocks_are_kept(problem: Problem, day: DayPlan) -> list[str]:
    """Each fixed block is in the itinerary at its time and place, and no other block is."""
    asked = problem.day(day.day)
    held = list(day.of_kind(ItemKind.BLOCK))
    wrong: list[str] = []
    for block in asked.blocks:
        same = [b for b in held if (b.start, b.end) == (block.start, block.end)]
        same = [b for b in same if block.place is None or b.place == block.place]
        if not same:
            wrong.append(f"The block {block.label!r} at {clock(block.start)} is missing.")
        else:
            held.remove(same[0])
    return wrong + [f"There is no block at {clock(extra.start)}." for extra in held]


def every_move_is_driven(problem: Problem, day: DayPlan) -> list[str]:
    """Between visits in different places lies one drive with time to pack up, drive, park and sign in."""
    asked = problem.day(day.day)
    wrong: list[str] = []
    here = asked.start_place
    for item in sorted(day.of_kind(ItemKind.DRIVE, *VISITS), key=lambda item: (item.start, item.end)):
        if item.kind is ItemKind.DRIVE:
            wrong.extend(_drive_faults(problem, item, here))
            here = item.to_place
        elif item.place is not None:
            if here is not None and here != item.place:
                wrong.append(f"{_opening(problem, item)} at {clock(item.start)} is reached without a drive.")
            here = item.place
    if asked.end_place is not None and here is not None and here != asked.end_place:
        wrong.append("The day doesn't end where it should.")
    return wrong


def _drive_faults(problem: Problem, item: Item, here: str | None) -> list[str]:
    known = {place.id: place for place in problem.places}
    if item.place not in known or item.to_place not in known:
        return [f"The drive at {clock(item.start)} is between unknown places."]
    origin, to = known[item.place], known[item.to_place]
    wheel = problem.drive_minutes[origin.id][to.id] if origin.id != to.id else 0
    wrong: list[str] = []
    if here is not None and here != origin.id:
        wrong.append(f"The drive at {clock(item.start)} begins where the teacher is not.")
    if origin.id == to.id:
        wrong.append(f"The drive at {clock(item.start)} goes nowhere.")
    elif item.end - item.start != origin.leave_minutes + wheel + to.arrive_minutes:
        wrong.append(f"The drive at {clock(item.start)} is given the wrong time.")
    if item.drive_minutes != wheel:
        wrong.append(f"The drive at {clock(item.start)} counts {item.drive_minutes} minutes, not {wheel}.")
    return wrong


def time_to_set_up(problem: Problem, day: DayPlan) -> list[str]:
    """The set-up minutes before a session that follows another visit hold no visit, drive or lunch."""
    if problem.setup_minutes == 0:
        return []
    others = day.of_kind(*VISITS, ItemKind.DRIVE, ItemKind.LUNCH, ItemKind.PREPARATION)
    visits = sorted(day.of_kind(*VISITS), key=lambda item: item.start)
    wrong: list[str] = []
    for session in visits[1:]:
        begin = session.start - problem.setup_minutes
        clash = any(other.start < session.start and other.end > begin for other in others)
        if session.kind is ItemKind.SESSION and clash:
            wrong.append(f"There is no time to set up before {_what(problem, session)}.")
    return wrong


def lunch_is_kept(problem: Problem, day: DayPlan) -> list[str]:
    """One lunch of the full length lies inside its window (and, as nothing overlaps, is duty-free)."""
    lunch = problem.day(day.day).lunch
    held = day.of_kind(ItemKind.LUNCH)
    if lunch is None:
        return ["There is a lunch that was not asked for."] if held else []
    if len(held) != 1:
        return ["There is no lunch." if not held else "There is more than one lunch."]
    item = held[0]
    if item.end - item.start != lunch.minutes or item.start < lunch.earliest or item.end > lunch.latest_end:
        return [f"Lunch at {clock(item.start)} is too short or outside its window."]
    return []


# ---- rules of the whole horizon --------------------------------------------------------------------------


def _held(problem: Problem, plan: Itinerary) -> dict[str, list[tuple[int, int, str | None]]]:
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


def no_more_than_owed(problem: Problem, plan: Itinerary) -> list[str]:
    """No service is held more often than it is owed."""
    held = _held(problem, plan)
    return [
        f"{service.label or service.id} is held {len(held[service.id])} times, {service.sessions} are owed."
        for service in problem.services
        if len(held[service.id]) > service.sessions
    ]


def days_apart(problem: Problem, plan: Itinerary) -> list[str]:
    """Two sessions of a service lie at least its days apart."""
    held = _held(problem, plan)
    wrong: list[str] = []
    for service in problem.services:
        days = [index for index, _, _ in held[service.id]]
        if any(b - a < service.days_apart for a, b in pairwise(days)):
            wrong.append(f"Sessions of {service.label or service.id} are too close together.")
    return wrong


def pins_are_kept(problem: Problem, plan: Itinerary) -> list[str]:
    """Each pinned session is held where and when it is pinned."""
    wrong: list[str] = []
    for pin in problem.pins:
        day = plan.days[[one.day for one in plan.days].index(pin.day)]
        same = [
            item
            for item in day.of_kind(ItemKind.SESSION)
            if (item.unit, item.start) == (pin.unit, pin.at)
            and pin.place in {None, item.place}
            and pin.space in {None, item.space}
        ]
        if not same:
            wrong.append(f"{problem.name_of_unit(pin.unit)} is pinned to {clock(pin.at)} but not held then.")
    return wrong


DAY_RULES: tuple[Callable[[Problem, DayPlan], list[str]], ...] = (
    one_thing_at_a_time,
    inside_the_contract_day,
    only_at_its_starts,
    blocks_are_kept,
    every_move_is_driven,
    time_to_set_up,
    lunch_is_kept,
)
WEEK_RULES: tuple[Callable[[Problem, Itinerary], list[str]], ...] = (
    no_more_than_owed,
    days_apart,
    pins_are_kept,
)


# ---- figures ---------------------------------------------------------------------------------------------


def _figures(problem: Problem, plan: Itinerary) -> GoalFigures:
    held = _held(problem, plan)
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
    unit = next(
        problem.unit(item.unit)
        for item in day.of_kind(ItemKind.SESSION)
        if item.unit is not None
        and (item.start, item.place) == (at, place)
        and problem.has_unit(item.unit)
        and service.id in problem.members(item.unit)
    )
    keys = {s.pattern_key for s in unit.starts if (s.day, s.at, s.place) == (day.day, at, place)}
    open_then = [w for w in unit.windows if (w.day, w.place) == (day.day, place) and w.earliest <= at <= w.latest]
    keys |= {window.pattern_key for window in open_then}
    away = [abs(minute - at) for key, minute in service.usual if key in keys]
    return min([*away, SAMENESS_CAP])


WORDS = {ItemKind.SETUP: "setting up", ItemKind.FREE: "free time", ItemKind.BLOCK: "a fixed block"}


def _what(problem: Problem, item: Item) -> str:
    if item.kind is ItemKind.SESSION:
        return problem.name_of_unit(item.unit or "")
    if item.kind is ItemKind.DRIVE:
        return f"the drive to {problem.name_of_place(item.to_place or '')}"
    return item.label or WORDS.get(item.kind, item.kind.value)


def _opening(problem: Problem, item: Item) -> str:
    """The same as the first words of a sentence."""
    what = _what(problem, item)
    return what[:1].upper() + what[1:]
