"""What a week has no room for, given to a teacher nearby whose week has.

Everybody else's days stay as they are: the giver's week loses what it didn't hold anyway, and the planner looks for
room in the taker's.
"""

from collections import Counter
from collections.abc import Collection, Mapping

from schedule.planner.assign.answer import YearLoad
from schedule.planner.assign.bundles import Bundle
from schedule.planner.assign.pricing import Pricer
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.timing import RoughDay
from schedule.planner.result import Itinerary

MOST_ASKED = 4
"""Teachers who are asked for room, nearest first."""


def mended(
    question: Staffing, parts: tuple[Bundle, ...], pricer: Pricer, assignment: Mapping[str, str]
) -> dict[str, str]:
    """The same assignment with bundles moved that weren't wholly placed, as far as others have room for them."""
    loads = {one.teacher: one for one in pricer.loads(assignment)}
    for giver in [one.teacher for one in loads.values() if one.unplaced]:
        for part in _left_out(parts, loads[giver]):
            for taker in _nearby(question, part, giver, loads):
                if _moved(question, pricer, loads, part, giver, taker):
                    break
    return {service: one.teacher for one in loads.values() for service in one.services}


def _left_out(parts: tuple[Bundle, ...], load: YearLoad) -> list[Bundle]:
    held = Counter(one.unit for one in load.plan.sessions) if load.plan is not None else Counter[str]()
    mine = set(load.services)
    return [part for part in parts if any(one.id in mine and held[one.id] < one.sessions for one in part.services)]


def _nearby(question: Staffing, part: Bundle, giver: str, loads: Mapping[str, YearLoad]) -> list[str]:
    """Who may have it, those in its building first, then by their base."""
    place = part.services[0].place

    def away(teacher: str) -> tuple[bool, int]:
        base = question.teacher(teacher).base
        return place not in loads[teacher].places, 0 if base == place else question.drive_minutes[base][place]

    return sorted((one for one in part.allowed if one != giver), key=away)[:MOST_ASKED]


def _moved(
    question: Staffing, pricer: Pricer, loads: dict[str, YearLoad], part: Bundle, giver: str, taker: str
) -> bool:
    """Move a bundle if the taker's week then still holds everything; whether it was moved."""
    mine, most, before = {one.id for one in part.services}, question.teacher(taker).most_minutes, loads[taker]
    if before.unplaced or before.plan is None or (most is not None and before.owed + part.minutes > most):
        return False
    after = pricer.price(taker, {*before.services, *mine}, _days(before.plan, ()))
    if after.unplaced or after.short > before.short:
        return False
    old = loads[giver]
    days = None if old.plan is None else _days(old.plan, mine)
    loads[taker], loads[giver] = after, pricer.price(giver, set(old.services) - mine, days)
    return True


def _days(plan: Itinerary, without: Collection[str]) -> list[RoughDay]:
    """A week as rough days, some services left out."""
    found: list[RoughDay] = []
    for day in plan.days:
        sessions = [one for one in plan.sessions if one.day == day.day and one.unit not in without]
        found.append(
            RoughDay(tuple(dict.fromkeys(one.place for one in sessions)), tuple(one.unit for one in sessions))
        )
    return found
