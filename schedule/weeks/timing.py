"""Times a week that a person has arranged: drives, lunch, setting up and preparation around the given sessions.

Unlike the planner this never refuses: where a drive doesn't fit it is written down as it would be, and where lunch
doesn't it is left out; the judge (``schedule.planner.check``) says which rule that breaks. Pure.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.counting import preparation_minutes, wishes_missed
from schedule.planner.problem import Day, Lunch, Problem, Session
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary


@dataclass(frozen=True, slots=True)
class _Gap:
    """The time between two visits: from ``begin`` at ``here`` to ``finish`` at ``there``."""

    begin: int
    finish: int
    here: str | None
    there: str | None
    leg: int
    drive: int
    setup: int

    @property
    def spare(self) -> int:
        """Minutes left when the drive and the setting up are taken off."""
        return self.finish - self.setup - self.begin - self.leg


@dataclass(frozen=True, slots=True)
class _LunchChoice:
    """Lunch in one gap: when, and whether the drive comes first."""

    gap: int
    at: int
    drive_first: bool


def time_week(problem: Problem, sessions: Sequence[Session]) -> Itinerary:
    """An itinerary with these sessions, every day re-timed. Sessions of days outside the problem are left out."""
    return Itinerary(
        tuple(time_day(problem, day, [one for one in sessions if one.day == day.id]) for day in problem.days)
    )


def retime_days(problem: Problem, plan: Itinerary, sessions: Sequence[Session], days: frozenset[str]) -> Itinerary:
    """The plan with only the named days re-timed around ``sessions``; the others stay to the minute."""
    return Itinerary(
        tuple(
            time_day(problem, problem.day(day.day), [one for one in sessions if one.day == day.day])
            if day.day in days
            else day
            for day in plan.days
        )
    )


def time_day(problem: Problem, day: Day, sessions: Sequence[Session]) -> DayPlan:
    """One day around its sessions; of the places for lunch the one that misses the fewest wishes is taken."""
    visits = _visits(problem, day, sessions)
    gaps = list(_gaps(problem, day, visits))
    choices: list[_LunchChoice | None] = list(_lunch_choices(problem, day, gaps)) or [None]
    plans = [_laid_out(problem, day, visits, gaps, choice) for choice in choices]
    return min(plans, key=lambda plan: (wishes_missed_on(problem, plan), -preparation_minutes(problem, plan)))


def wishes_missed_on(problem: Problem, day: DayPlan) -> int:
    """Minutes of contract wishes that one day misses."""
    return wishes_missed(problem, Itinerary((day,)))


def _visits(problem: Problem, day: Day, sessions: Sequence[Session]) -> list[Item]:
    found = [
        Item(
            ItemKind.SESSION,
            one.at,
            one.at + session_minutes(problem, one),
            one.place,
            unit=one.unit,
            space=one.space,
            label=problem.name_of_unit(one.unit),
        )
        for one in sessions
    ]
    found += [Item(ItemKind.BLOCK, b.start, b.end, b.place, label=b.label) for b in day.blocks]
    found.sort(key=lambda item: (item.start, item.end))
    here = day.start_place or next((item.place for item in found if item.place is not None), None)
    placed: list[Item] = []
    for item in found:
        here = item.place or here
        placed.append(Item(item.kind, item.start, item.end, here, None, item.unit, item.space, item.label))
    return placed


def session_minutes(problem: Problem, session: Session) -> int:
    """How long a session lasts: what it says itself, else its unit's length."""
    return session.minutes if session.minutes is not None else problem.unit(session.unit).minutes


def _gaps(problem: Problem, day: Day, visits: Sequence[Item]) -> Iterator[_Gap]:
    first = Item(ItemKind.FREE, day.start, day.start, day.start_place)
    last = Item(ItemKind.FREE, day.end, day.end, day.end_place)
    for number, (before, after) in enumerate(pairwise([first, *visits, last])):
        sets_up = number > 0 and after.kind is ItemKind.SESSION
        yield _Gap(
            before.end,
            after.start,
            before.place or after.place,
            after.place or before.place,
            problem.leg_minutes(before.place, after.place),
            problem.drive(before.place, after.place),
            problem.setup_minutes if sets_up else 0,
        )


def _lunch_choices(problem: Problem, day: Day, gaps: Sequence[_Gap]) -> Iterator[_LunchChoice]:
    lunch = day.lunch
    if lunch is None:
        return
    smallest = _smallest_block(problem)
    for number, gap in enumerate(gaps):
        if gap.spare < lunch.minutes:
            continue
        for drive_first in (True, False) if gap.leg else (True,):
            if lunch.place not in {None, gap.there if drive_first else gap.here}:
                continue
            for at in _lunch_minutes(gap, lunch, drive_first, smallest):
                yield _LunchChoice(number, at, drive_first)


def _lunch_minutes(gap: _Gap, lunch: Lunch, drive_first: bool, smallest: int) -> list[int]:
    """Moments for lunch in a gap: as soon, as late, or a preparation block away from either end."""
    base = gap.begin + (gap.leg if drive_first else 0)
    spare = gap.spare - lunch.minutes
    low, high = max(base, lunch.earliest), min(base + spare, lunch.latest_end - lunch.minutes)
    if low > high:
        return []
    wanted = (base, base + spare, base + smallest, base + spare - smallest)
    return sorted({min(max(at, low), high) for at in wanted})


def _smallest_block(problem: Problem) -> int:
    return problem.preparation.smallest_block if problem.preparation else 1


def _laid_out(
    problem: Problem, day: Day, visits: Sequence[Item], gaps: Sequence[_Gap], choice: _LunchChoice | None
) -> DayPlan:
    items: list[Item] = []
    for number, gap in enumerate(gaps):
        mine = choice if choice is not None and choice.gap == number else None
        items.extend(_filled(gap, _busy(gap, mine, day), _smallest_block(problem)))
        if number < len(visits):
            items.append(visits[number])
    return DayPlan(day.id, tuple(items))


def _busy(gap: _Gap, choice: _LunchChoice | None, day: Day) -> list[Item]:
    busy: list[Item] = []
    lunch = day.lunch.minutes if choice is not None and day.lunch is not None else 0
    leg_at = gap.begin if choice is None or choice.drive_first else choice.at + lunch
    if gap.here != gap.there:
        leg_end = leg_at + gap.leg
        busy.append(Item(ItemKind.DRIVE, leg_at, leg_end, gap.here, gap.there, drive_minutes=gap.drive))
    if choice is not None:
        place = gap.there if choice.drive_first else gap.here
        busy.append(Item(ItemKind.LUNCH, choice.at, choice.at + lunch, place))
    if gap.setup:
        busy.append(Item(ItemKind.SETUP, gap.finish - gap.setup, gap.finish, gap.there))
    return sorted(busy, key=lambda item: (item.start, item.end))


def _filled(gap: _Gap, busy: Sequence[Item], smallest: int) -> Iterator[Item]:
    at, place = gap.begin, gap.here
    for item in busy:
        yield from _idle(at, item.start, place, smallest)
        yield item
        at, place = max(at, item.end), item.to_place or place
    yield from _idle(at, gap.finish, place, smallest)


def _idle(begin: int, finish: int, place: str | None, smallest: int) -> Iterator[Item]:
    if begin < finish:
        kind = ItemKind.PREPARATION if finish - begin >= smallest else ItemKind.FREE
        yield Item(kind, begin, finish, place)
