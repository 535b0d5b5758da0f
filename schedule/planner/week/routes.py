"""A day's route: visits in order, timed, with its drive, missed wishes and preparation."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from schedule.planner.week.model import OPEN, DayModel, Gap, Model


@dataclass(frozen=True, slots=True)
class Route:
    """One day's visits (node numbers without the day's ends) and what they cost.

    ``lunch_gap`` is the number of the gap that holds lunch (0 before the first visit), -1 without lunch.
    ``missed`` counts this day's own wishes: preparation of the day and minutes over the longest stretch.
    """

    day: int
    visits: tuple[int, ...]
    lunch_gap: int
    drive: int
    missed: int
    preparation: int
    kept: int
    off: int


def best_route(day: DayModel, visits: Sequence[int]) -> Route | None:
    """The route over the given visits, best in missed wishes, then sessions kept, drive and preparation.

    Blocks and pins without a place are put in anew: those where the visit before or after them is, these wherever
    they may be. ``None`` if a rule breaks.
    """
    if not day.one_of:
        return _route(day, tuple(visits))
    copies = {copy for several in day.one_of for copy in several}
    found = [_route(day, filled) for filled in _with_copies(day, tuple(n for n in visits if n not in copies))]
    routes = [route for route in found if route is not None]
    return min(routes, key=lambda one: (one.missed, -one.kept, one.drive, -one.preparation), default=None)


def _with_copies(day: DayModel, visits: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """The visits with one of each list of copies: any of a pin's, and then those of a block that lie on the way."""
    nodes = day.nodes
    pins = [copies for copies in day.one_of if nodes[copies[0]].session]
    blocks = [copies for copies in day.one_of if not nodes[copies[0]].session]
    for pinned in product(*pins):
        placed = sorted([*visits, *pinned], key=lambda n: (nodes[n].start, nodes[n].end))
        for held in product(*(_on_the_way(day, placed, copies) for copies in blocks)):
            yield tuple(sorted([*placed, *held], key=lambda n: (nodes[n].start, nodes[n].end)))


def _on_the_way(day: DayModel, visits: Sequence[int], copies: list[int]) -> list[int]:
    """The copies of a block at the places of the visits before and after it."""
    nodes = day.nodes
    known = [n for n in (0, *visits, len(nodes) - 1) if nodes[n].place != OPEN]
    later = [n != 0 and nodes[n].start >= nodes[copies[0]].start for n in known]
    # Nodes are in order of time: the last that isn't later and the first that is are its neighbors.
    turn = later.index(True) if True in later else len(known)
    wanted = {nodes[n].place for n in known[max(0, turn - 1) : turn + 1]}
    return [copy for copy in copies if nodes[copy].place in wanted] or copies[:1]


def _route(day: DayModel, visits: tuple[int, ...]) -> Route | None:
    gaps: list[Gap] = []
    for before, after in pairwise((0, *visits, len(day.nodes) - 1)):
        gap = day.gap(before, after)
        if gap is None:
            return None
        gaps.append(gap)
    return _with_best_lunch(day, visits, gaps)


def _with_best_lunch(day: DayModel, visits: tuple[int, ...], gaps: list[Gap]) -> Route | None:
    places = [n for n, gap in enumerate(gaps) if gap.lunch_fits] if day.day.lunch else [-1]
    if not places:
        return None
    if not day.model.uses_wishes:
        return _timed(day, visits, gaps, places[0])
    routes = [_timed(day, visits, gaps, at) for at in places]
    return min(routes, key=lambda route: (route.missed, -route.preparation))


def timed_route(day: DayModel, visits: tuple[int, ...], lunch_gap: int) -> Route:
    """The route over these visits with lunch in that gap. ``ValueError`` where a rule breaks."""
    gaps = [day.gap(before, after) for before, after in pairwise((0, *visits, len(day.nodes) - 1))]
    fit = [gap for gap in gaps if gap is not None]
    if len(fit) < len(gaps) or (lunch_gap >= 0 and not fit[lunch_gap].lunch_fits):
        raise ValueError("A route was named that no one could keep.")
    return _timed(day, visits, fit, lunch_gap)


def _timed(day: DayModel, visits: tuple[int, ...], gaps: list[Gap], lunch_gap: int) -> Route:
    nodes = day.nodes
    drive = sum(gap.drive for gap in gaps)
    kept = sum(nodes[n].kept for n in visits)
    off = sum(nodes[n].off for n in visits)
    if not day.model.uses_wishes:
        return Route(day.index, visits, lunch_gap, drive, 0, 0, kept, off)
    prepared = sum(gap.preparation for gap in gaps)
    if lunch_gap >= 0:
        prepared += gaps[lunch_gap].lunch_preparation - gaps[lunch_gap].preparation
    missed = max(0, day.day.preparation_minutes - prepared) + _over_stretch(day, visits, gaps, lunch_gap)
    return Route(day.index, visits, lunch_gap, drive, missed, prepared, kept, off)


def _over_stretch(day: DayModel, visits: tuple[int, ...], gaps: list[Gap], lunch_gap: int) -> int:
    """Minutes by which runs of visits without a break exceed the longest stretch."""
    limit = day.model.stretch
    if not visits:
        return 0
    over = 0
    begin = day.nodes[visits[0]].start
    for n in range(1, len(visits) + 1):
        if n == len(visits) or gaps[n].rest or n == lunch_gap:
            over += max(0, day.nodes[visits[n - 1]].end - begin - limit)
            begin = day.nodes[visits[n]].start if n < len(visits) else 0
    return over


def day_plan(day: DayModel, route: Route) -> DayPlan:
    """The route as an itinerary timed to the minute."""
    items: list[Item] = []
    path = (0, *route.visits, len(day.nodes) - 1)
    for number, (before, after) in enumerate(pairwise(path)):
        items.extend(_gap_items(day, before, after, number == route.lunch_gap))
        if after != len(day.nodes) - 1:
            items.append(_visit_item(day, after))
    return DayPlan(day.day.id, tuple(items))


def _visit_item(day: DayModel, number: int) -> Item:
    node = day.nodes[number]
    place = None if node.place == OPEN else day.model.place_ids[node.place]
    kind = ItemKind.SESSION if node.session else ItemKind.BLOCK
    return Item(kind, node.start, node.end, place, None, node.unit, node.space, node.label)


def _gap_items(day: DayModel, before: int, after: int, with_lunch: bool) -> list[Item]:
    gap = day.gap(before, after)
    if gap is None:
        raise ValueError("A route holds two visits that can't follow each other.")
    model = day.model
    first, last = day.nodes[before], day.nodes[after]
    setup = model.setup if last.session and before != 0 else 0
    here, there = _ends(model, first.place, last.place)
    leg_at = gap.leg_at if with_lunch else first.end
    arrived = leg_at + model.leg[first.place][last.place]
    busy: list[Item] = []
    if here != there:
        busy.append(Item(ItemKind.DRIVE, leg_at, arrived, here, there, drive_minutes=gap.drive))
    if with_lunch:
        where = here if gap.lunch_at < arrived and here != there else there
        busy.append(Item(ItemKind.LUNCH, gap.lunch_at, gap.lunch_at + _lunch_minutes(day), where))
    if setup:
        busy.append(Item(ItemKind.SETUP, last.start - setup, last.start, there))
    busy.sort(key=lambda item: (item.start, item.end))
    return _fill(busy, first.end, last.start, here, model.smallest_block)


def _lunch_minutes(day: DayModel) -> int:
    return 0 if day.day.lunch is None else day.day.lunch.minutes


def _ends(model: Model, first: int, last: int) -> tuple[str | None, str | None]:
    """The places between which a gap lies; an open end is wherever the other one is."""
    here, there = (last if first == OPEN else first), (first if last == OPEN else last)
    return _place_id(model, here), _place_id(model, there)


def _place_id(model: Model, place: int) -> str | None:
    return None if place == OPEN else model.place_ids[place]


def _fill(busy: list[Item], begin: int, finish: int, here: str | None, smallest: int) -> list[Item]:
    """The items with what is left between them named preparation or, where too short, free."""
    filled: list[Item] = []
    at, place = begin, here
    for item in busy:
        filled.extend(_idle(at, item.start, place, smallest))
        filled.append(item)
        at, place = item.end, item.to_place or place
    filled.extend(_idle(at, finish, place, smallest))
    return filled


def _idle(begin: int, finish: int, place: str | None, smallest: int) -> list[Item]:
    if begin >= finish:
        return []
    kind = ItemKind.PREPARATION if finish - begin >= smallest else ItemKind.FREE
    return [Item(kind, begin, finish, place)]


def plan_of(model: Model, routes: Sequence[Route]) -> Itinerary:
    """The routes of all days as a plan."""
    return Itinerary(tuple(day_plan(model.days[route.day], route) for route in routes))
