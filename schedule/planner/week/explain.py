"""Why a session could not be placed, in plain words, whom to ask, and what one request would fix it."""

from collections.abc import Sequence
from dataclasses import replace

from schedule.planner.problem import Barred, Day, Problem, Service, Start, all_starts
from schedule.planner.result import Item, ItemKind, Itinerary, Reason, Request, Unplaced, sessions_of_services
from schedule.planner.times import clock
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import Model, Node
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import state_of

MOST_REASONS = 40
MOST_LOOKED_AT = 200
"""Starts of a service that are looked at one by one; wide windows have thousands, and few are ever read."""

MOST_ASKED = 3
DAY_USED = "day-used"


def explain_unplaced(problem: Problem, plan: Itinerary) -> tuple[Unplaced, ...]:
    """One entry for every service with sessions missing."""
    covered = sessions_of_services(problem, plan.sessions)
    missing = {one.id: one.sessions - len(covered[one.id]) for one in problem.services}
    lacking = [service for service in problem.services if missing[service.id] > 0]
    requests = cheapest_requests(problem, plan, lacking)
    return tuple(
        _explain(
            problem,
            plan,
            service,
            missing[service.id],
            {session.day for session in covered[service.id]},
            requests.get(service.id),
        )
        for service in lacking
    )


def _explain(
    problem: Problem, plan: Itinerary, service: Service, missing: int, held: set[str], request: Request | None
) -> Unplaced:
    open_days, looked_at = _to_look_at(problem, service, held)
    reasons = [why_not(problem, plan, service, start, held) for start in looked_at]
    barred = [
        Reason(one.day, one.at, one.place, one.reason_code, _barred_text(problem, one), one.ask)
        for one in service.barred
    ]
    ask = dict.fromkeys([request.ask] if request is not None and request.ask else [])
    ask.update(dict.fromkeys(reason.ask for reason in (*reasons, *barred) if reason.ask))
    return Unplaced(
        service=service.id,
        sessions=missing,
        minutes=missing * service.minutes,
        sentence=_sentence(service, missing, reasons, barred, open_days),
        reasons=tuple([*reasons, *barred][:MOST_REASONS]),
        ask=tuple(ask)[:MOST_ASKED],
        request=request,
    )


def _to_look_at(problem: Problem, service: Service, held: set[str]) -> tuple[int, list[Start]]:
    """How many starts lie on days that the service doesn't use, and the starts that are looked at."""
    starts = _all_starts(problem, service)
    open_days = [start for start in starts if not _day_is_used(problem, service, start, held)]
    looked_at = starts if len(starts) <= MOST_LOOKED_AT else (open_days or starts)[:MOST_LOOKED_AT]
    return len(open_days), looked_at


def _all_starts(problem: Problem, service: Service) -> list[Start]:
    own = list(all_starts(service))
    for group in problem.groups:
        if service.id in group.members:
            own.extend(all_starts(group))
    return sorted(own, key=lambda start: (problem.day_index(start.day), start.at, start.place))


def _barred_text(problem: Problem, barred: Barred) -> str:
    return f"{problem.name_of_day(barred.day)} at {clock(barred.at)}: {barred.text}"


def _sentence(service: Service, missing: int, reasons: list[Reason], barred: list[Reason], others: int) -> str:
    """Why not, in one sentence. ``others``: how many starts there are on days that it doesn't use."""
    times = "1 session" if missing == 1 else f"{missing} sessions"
    name = service.label or service.id
    opening = f"{times} of {service.minutes} minutes of {name} could not be placed"
    if not reasons and not barred:
        return f"{opening}: it has no start at all in these days."
    blocked = [reason for reason in reasons if reason.code != DAY_USED]
    if not blocked:
        also = f"; {barred[0].text}" if barred else ""
        return f"{opening}: no start is left on a day that it doesn't use already{also}."
    if others == 1:
        return f"{opening}: its only other start is {blocked[0].text}."
    return f"{opening}: none of its {others} other starts is free; for one, {blocked[0].text}."


def why_not(problem: Problem, plan: Itinerary, service: Service, start: Start, held: set[str]) -> Reason:
    """What stands against one start, given the rest of the plan."""
    when = f"{problem.name_of_day(start.day)} at {clock(start.at)}"
    where = problem.name_of_place(start.place)
    if _day_is_used(problem, service, start, held):
        text = f"{when} at {where}, too close to another session of the same service"
        return Reason(start.day, start.at, start.place, DAY_USED, text)
    code, text = _blocker(problem, plan, start, start.at + problem.minutes_of(service.id, start))
    return Reason(start.day, start.at, start.place, code, f"{when} at {where}, {text}", _whom(code, where))


def _day_is_used(problem: Problem, service: Service, start: Start, held: set[str]) -> bool:
    index = problem.day_index(start.day)
    return any(abs(problem.day_index(day) - index) < service.days_apart for day in held)


def _whom(code: str, where: str) -> str:
    if code == "lunch" or code == "contract-day":
        return "whoever sets your contract day"
    return f"the office of {where}"


def _blocker(problem: Problem, plan: Itinerary, start: Start, end: int) -> tuple[str, str]:
    """The rule in the way: a session or block then, the drive before or after, the day's ends, lunch."""
    day = problem.day(start.day)
    visits = plan.day(start.day).of_kind(ItemKind.SESSION, ItemKind.BLOCK)
    during = _held_during(visits, start.at, end)
    if during is not None:
        until = f"{_name(problem, during)} until {clock(during.end)}"
        return "conflict", f"when you are at {_where(problem, during)} with {until}"
    before = [item for item in visits if item.end <= start.at]
    reached = _reached(problem, day.start, day.start_place, before, start.place)
    if reached > start.at:
        came = _came(problem, before)
        return "drive-before", f"when, coming {came}, you could not begin before {clock(reached)}"
    after = [item for item in visits if item.start >= end]
    late = _too_late_after(problem, day, start, end, after[0] if after else None)
    return late or ("lunch", "when no time for lunch would be left")


def _held_during(visits: Sequence[Item], begin: int, end: int) -> Item | None:
    return next((item for item in visits if item.start < end and begin < item.end), None)


def _came(problem: Problem, before: list[Item]) -> str:
    return f"from {_where(problem, before[-1])} until {clock(before[-1].end)}" if before else "the day's start"


def _too_late_after(
    problem: Problem, day: Day, start: Start, end: int, following: Item | None
) -> tuple[str, str] | None:
    """What would be reached too late after the session: the visit that follows, or the end of the day."""
    target = following.place if following else day.end_place
    deadline = following.start if following else day.end
    needed = end + problem.leg_minutes(start.place, target)
    if following is not None and following.kind is ItemKind.SESSION:
        needed += problem.setup_minutes
    if needed <= deadline:
        return None
    what = f"{_name(problem, following)} at {_where(problem, following)}" if following else "the end of the day"
    return "drive-after", f"when you could not get from there to {what} before {clock(needed)}"


def _reached(problem: Problem, day_start: int, base: str | None, before: list[Item], place: str) -> int:
    if not before:
        return day_start + problem.leg_minutes(base, place)
    last = before[-1]
    return last.end + problem.leg_minutes(last.place, place) + problem.setup_minutes


def _where(problem: Problem, item: Item) -> str:
    return "no fixed place" if item.place is None else problem.name_of_place(item.place)


def _name(problem: Problem, item: Item | None) -> str:
    if item is None:
        return ""
    return problem.name_of_unit(item.unit) if item.unit else (item.label or "a fixed block")


# ---- the cheapest request --------------------------------------------------------------------------------


def cheapest_requests(problem: Problem, plan: Itinerary, services: list[Service]) -> dict[str, Request]:
    """For each service the barred start which, if free, would place one more session with least driving.

    Each is tried in the plan as it stands, so what is said is true.
    """
    services = [service for service in services if service.barred]
    if not services:
        return {}
    freed = replace(
        problem,
        services=tuple(
            replace(one, starts=(*one.starts, *map(_freed, one.barred))) if one in services else one
            for one in problem.services
        ),
    )
    state = state_of(build_model(freed), plan)
    found = {service.id: _cheapest(problem, state, service) for service in services}
    return {service: request for service, request in found.items() if request is not None}


def _cheapest(problem: Problem, state: WeekState | None, service: Service) -> Request | None:
    """The request that adds least driving, the first of several; none where no barred start fits."""
    fits = [
        _request(problem, service, barred, added)
        for barred in service.barred
        if (added := _added_drive(state, service, barred)) is not None
    ]
    return min(fits, key=lambda one: one.added_drive, default=None)


def _freed(barred: Barred) -> Start:
    return Start(barred.day, barred.at, barred.place, barred.space, None, barred.minutes)


def _request(problem: Problem, service: Service, barred: Barred, added: int) -> Request:
    where = problem.name_of_place(barred.place)
    driving = "no more driving" if added <= 0 else f"{added} minutes more driving"
    text = (
        f"If {problem.name_of_day(barred.day)} at {clock(barred.at)} at {where} could be used "
        f"(now: {barred.text}), one more session would be placed, with {driving}."
    )
    return Request(service.id, barred.day, barred.at, barred.place, text, barred.ask, added)


def _added_drive(state: WeekState | None, service: Service, barred: Barred) -> int | None:
    """Drive minutes added by a session at a barred start, or ``None`` where it doesn't fit even then."""
    if state is None:
        return None
    problem = state.model.problem
    day = problem.day_index(barred.day)
    number = [one.id for one in problem.services].index(service.id)
    for node in state.by_service[day][number]:
        if _same(state.model, state.model.days[day].nodes[node], service, _freed(barred)):
            option = state.option(day, node)
            return None if option is None else option.route.drive - state.routes[day].drive
    return None


def _same(model: Model, node: Node, service: Service, start: Start) -> bool:
    place = model.place_ids[node.place]
    return (node.unit, node.start, place) == (service.id, start.at, start.place)
