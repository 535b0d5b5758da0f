"""Every plan of a tiny week, tried one by one. Written apart from the planner, from the rules alone."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise, product

from schedule.planner.problem import Block, Day, Goal, Problem, Start

STEP = 5


@dataclass(frozen=True)
class Visit:
    """A session or block; ``unit`` is ``None`` for a block."""

    start: int
    end: int
    place: str | None
    unit: str | None


def best_figures(problem: Problem) -> tuple[int, ...] | None:
    """The best values of the goals in order over every possible plan; ``None`` if there is no plan."""
    return min(every_figures(problem), default=None)


def every_figures(problem: Problem) -> Iterator[tuple[int, ...]]:
    """The values of the goals in order of every possible plan."""
    return (figures for _, figures in every_plan(problem))


def every_plan(problem: Problem) -> Iterator[tuple[tuple[tuple[str, Start], ...], tuple[int, ...]]]:
    """Every possible plan: the units held at which starts, and the values of the goals in order."""
    pairs = [(one.id, start) for one in problem.services for start in one.starts]
    pairs += [(group.id, start) for group in problem.groups for start in group.starts]
    cache: dict[tuple[str, tuple[tuple[str, Start], ...]], list[tuple[int, int, int]]] = {}
    for count in range(len(pairs) + 1):
        for chosen in combinations(pairs, count):
            if _counts_hold(problem, chosen):
                yield from ((chosen, figures) for figures in _week_figures(problem, chosen, cache))


def _sessions(problem: Problem, chosen: tuple[tuple[str, Start], ...]) -> list[tuple[str, Start]]:
    return [(member, start) for unit, start in chosen for member in problem.members(unit)]


def _counts_hold(problem: Problem, chosen: tuple[tuple[str, Start], ...]) -> bool:
    sessions = _sessions(problem, chosen)
    held = Counter(member for member, _ in sessions)
    for one in problem.services:
        days = sorted(problem.day_index(start.day) for member, start in sessions if member == one.id)
        if held[one.id] > one.sessions or any(b - a < one.days_apart for a, b in pairwise(days)):
            return False
    return all(
        any(
            unit == pin.unit and (s.day, s.at) == (pin.day, pin.at) and pin.place in {None, s.place}
            for unit, s in chosen
        )
        for pin in problem.pins
    )


def _week_figures(
    problem: Problem,
    chosen: tuple[tuple[str, Start], ...],
    cache: dict[tuple[str, tuple[tuple[str, Start], ...]], list[tuple[int, int, int]]],
) -> list[tuple[int, ...]]:
    days: list[list[tuple[int, int, int]]] = []
    for day in problem.days:
        mine = tuple(pair for pair in chosen if pair[1].day == day.id)
        key = (day.id, mine)
        if key not in cache:
            cache[key] = day_outcomes(problem, day, mine)
        if not cache[key]:
            return []
        days.append(cache[key])
    held = Counter(member for member, _ in _sessions(problem, chosen))
    unplaced = sum((one.sessions - held[one.id]) * one.minutes * one.weight for one in problem.services)
    change, sameness = _moved(problem, chosen), _sameness(problem, chosen)
    wished = problem.preparation.minutes if problem.preparation else 0
    found: list[tuple[int, ...]] = []
    for combination in product(*days):
        prepared = sum(one[2] for one in combination)
        values = {
            Goal.UNPLACED: unplaced,
            Goal.WISHES: sum(one[1] for one in combination) + max(0, wished - prepared),
            Goal.DRIVING: sum(one[0] for one in combination),
            Goal.CHANGE: change,
            Goal.SAMENESS: sameness,
        }
        found.append(tuple(values[goal] for goal in problem.goals))
    return found


def _sameness(problem: Problem, chosen: tuple[tuple[str, Start], ...]) -> int:
    """Minutes away from the usual times, or off the own median; 15 for each day nearer than evenly spread."""
    total, sessions = 0, _sessions(problem, chosen)
    for one in problem.services:
        mine = sorted((problem.day_index(s.day), s.at, s.pattern_key) for member, s in sessions if member == one.id)
        even = max(1, len(problem.days) // max(1, one.sessions))
        total += sum(15 * max(0, even - (b[0] - a[0])) for a, b in pairwise(mine))
        if one.usual:
            nearest = ([abs(at - minute) for k, minute in one.usual if k == key] for _, at, key in mine)
            total += sum(min([*away, 60]) for away in nearest)
        elif len(mine) > 1:
            middle = sorted(at for _, at, _ in mine)[(len(mine) - 1) // 2]
            total += sum(min(60, abs(at - middle)) for _, at, _ in mine)
    return total


def _moved(problem: Problem, chosen: tuple[tuple[str, Start], ...]) -> int:
    now = {(member, start.day, start.at, start.place) for member, start in _sessions(problem, chosen)}
    before = {
        (member, one.day, one.at, one.place)
        for one in problem.current or ()
        for member in problem.members(one.unit)
    }
    return len(before - now)


def day_outcomes(problem: Problem, day: Day, chosen: tuple[tuple[str, Start], ...]) -> list[tuple[int, int, int]]:
    """(drive, wishes missed that day, preparation) of every way to time these sessions; empty if none."""
    sessions = [Visit(s.at, s.at + problem.minutes_of(unit, s), s.place, unit) for unit, s in chosen]
    outcomes: set[tuple[int, int, int]] = set()
    for blocks in product(*(_block_visits(problem, block) for block in day.blocks)):
        visits = sorted([*sessions, *blocks], key=lambda one: (one.start, one.end))
        outcomes |= _timed(problem, day, visits)
    return sorted(outcomes)


def _block_visits(problem: Problem, block: Block) -> list[Visit]:
    places = [block.place] if block.place is not None else [place.id for place in problem.places]
    return [Visit(block.start, block.end, place, None) for place in places]


def _timed(problem: Problem, day: Day, visits: list[Visit]) -> set[tuple[int, int, int]]:
    if any(a.end > b.start for a, b in pairwise(visits)):
        return set()
    first = Visit(day.start, day.start, day.start_place, None)
    last = Visit(day.end, day.end, day.end_place, None)
    path = [first, *visits, last]
    gaps: list[set[tuple[int, bool, bool]]] = []
    drive = 0
    for number, (before, after) in enumerate(pairwise(path)):
        gaps.append(_gap_ways(problem, day, before, after, follows=number > 0))
        drive += problem.drive(before.place, after.place)
    found: set[tuple[int, int, int]] = set()
    for ways in product(*gaps):
        if sum(way[2] for way in ways) != (1 if day.lunch else 0):
            continue
        prepared = sum(way[0] for way in ways)
        missed = max(0, day.preparation_minutes - prepared)
        missed += _over(problem, visits, [way[1] or way[2] for way in ways])
        found.add((drive, missed, prepared))
    return found


def _gap_ways(
    problem: Problem, day: Day, before: Visit, after: Visit, *, follows: bool
) -> set[tuple[int, bool, bool]]:
    """(preparation, holds a break, holds lunch) of each way to lay drive and lunch into a gap."""
    setup = problem.setup_minutes if follows and after.unit is not None else 0
    begin, finish = before.end, after.start - setup
    leg = problem.leg_minutes(before.place, after.place)
    ways: set[tuple[int, bool, bool]] = set()
    for leg_at in range(begin, finish - leg + 1, STEP):
        drive = (leg_at, leg_at + leg)
        ways.add(_pieces(problem, begin, finish, [drive], False))
        if day.lunch is None:
            continue
        for lunch_at in range(max(begin, day.lunch.earliest), finish + 1, STEP):
            lunch = (lunch_at, lunch_at + day.lunch.minutes)
            clash = leg > 0 and lunch[0] < drive[1] and drive[0] < lunch[1]
            place = (after.place or before.place) if lunch[0] >= drive[1] else (before.place or after.place)
            clash = clash or day.lunch.place not in {None, place}
            if lunch[1] <= min(finish, day.lunch.latest_end) and not clash:
                ways.add(_pieces(problem, begin, finish, [drive, lunch], True))
    return ways


def _pieces(
    problem: Problem, begin: int, finish: int, busy: list[tuple[int, int]], lunch: bool
) -> tuple[int, bool, bool]:
    smallest = problem.preparation.smallest_block if problem.preparation else 1
    rest = problem.longest_stretch.break_minutes if problem.longest_stretch else 10**6
    free: list[int] = []
    now = begin
    for start, end in sorted(one for one in busy if one[0] < one[1]):
        free.append(start - now)
        now = end
    free.append(finish - now)
    return sum(one for one in free if one >= smallest), any(one >= rest for one in free), lunch


def _over(problem: Problem, visits: list[Visit], breaks: list[bool]) -> int:
    """Minutes over the longest stretch; ``breaks[n]`` is the gap before visit ``n``."""
    if problem.longest_stretch is None or not visits:
        return 0
    over, begin = 0, visits[0].start
    for number in range(1, len(visits)):
        if breaks[number]:
            over += max(0, visits[number - 1].end - begin - problem.longest_stretch.minutes)
            begin = visits[number].start
    return over + max(0, visits[-1].end - begin - problem.longest_stretch.minutes)
