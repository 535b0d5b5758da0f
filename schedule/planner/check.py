"""The judge: reads a finished itinerary line by line and says which rules it breaks and what it costs.

It shares no code with the search: it looks at the written times only and works nothing out for the plan.
Every plan passes it before it is shown or saved. One function for each rule.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.counting import VISITS, figures, sessions_held
from schedule.planner.problem import Group, Problem, Service, Window
from schedule.planner.result import DayPlan, GoalFigures, Item, ItemKind, Itinerary
from schedule.planner.times import clock


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
    return Verdict(tuple(found), figures(problem, plan))


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
    if lunch.place is not None and item.place != lunch.place:
        return [f"Lunch at {clock(item.start)} is not had at {problem.name_of_place(lunch.place)}."]
    return []


# ---- rules of the whole horizon --------------------------------------------------------------------------


def no_more_than_owed(problem: Problem, plan: Itinerary) -> list[str]:
    """No service is held more often than it is owed."""
    held = sessions_held(problem, plan)
    return [
        f"{service.label or service.id} is held {len(held[service.id])} times, {service.sessions} are owed."
        for service in problem.services
        if len(held[service.id]) > service.sessions
    ]


def days_apart(problem: Problem, plan: Itinerary) -> list[str]:
    """Two sessions of a service lie at least its days apart."""
    held = sessions_held(problem, plan)
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


# ---- in words ---------------------------------------------------------------------------------------------


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
