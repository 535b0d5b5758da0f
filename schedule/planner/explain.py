"""Why a session could not be placed, in plain words, whom to ask, and what one request would mend it."""

from collections.abc import Callable
from dataclasses import replace

from schedule.planner.model import Model, Node, build_model
from schedule.planner.problem import Barred, Problem, Service, Start, clock
from schedule.planner.result import Item, ItemKind, Plan, Reason, Request, Unplaced, sessions_of_services
from schedule.planner.state import State

MOST_REASONS = 40
MOST_REQUESTS = 60


def explain_unplaced(
    problem: Problem, plan: Plan, halted: Callable[[], bool] = lambda: False
) -> tuple[Unplaced, ...]:
    """One entry for every service with sessions missing. Requests are left out once ``halted``."""
    covered = sessions_of_services(problem, plan.sessions)
    entries: list[Unplaced] = []
    for service in problem.services:
        missing = service.sessions - len(covered[service.id])
        if missing > 0:
            held = {session.day for session in covered[service.id]}
            entries.append(_explain(problem, plan, service, missing, held, halted))
    return tuple(entries)


def _explain(
    problem: Problem,
    plan: Plan,
    service: Service,
    missing: int,
    held: set[str],
    halted: Callable[[], bool],
) -> Unplaced:
    reasons = [why_not(problem, plan, service, start, held) for start in _all_starts(problem, service)]
    reasons += [
        Reason(b.day, b.at, b.place, b.reason_code, _barred_text(problem, b), b.ask) for b in service.barred
    ]
    request = None if halted() else cheapest_request(problem, plan, service, halted)
    ask = dict.fromkeys([request.ask] if request is not None and request.ask else [])
    ask.update(dict.fromkeys(reason.ask for reason in reasons if reason.ask))
    return Unplaced(
        service=service.id,
        sessions=missing,
        minutes=missing * service.minutes,
        sentence=_sentence(problem, service, missing, reasons),
        reasons=tuple(reasons[:MOST_REASONS]),
        ask=tuple(ask)[:3],
        request=request,
    )


def _all_starts(problem: Problem, service: Service) -> list[Start]:
    own = list(service.starts)
    for group in problem.groups:
        if service.id in group.members:
            own.extend(group.starts)
    return sorted(own, key=lambda start: (problem.day_index(start.day), start.at, start.place))


def _barred_text(problem: Problem, barred: Barred) -> str:
    return f"{problem.name_of_day(barred.day)} at {clock(barred.at)}: {barred.text}"


def _sentence(problem: Problem, service: Service, missing: int, reasons: list[Reason]) -> str:
    name = service.label or service.id
    times = "1 session" if missing == 1 else f"{missing} sessions"
    opening = f"{times} of {service.minutes} minutes of {name} could not be placed"
    if not service.starts and not reasons:
        return f"{opening}: it has no start at all in these days."
    blocked = [reason for reason in reasons if reason.code not in {"day-used", "barred"}]
    own = [reason for reason in blocked if not any(_is_barred(service, reason) for _ in (0,))]
    if not own:
        barred = reasons[0].text if reasons else "every start is on a day that it already uses"
        return f"{opening}: no other start exists; {barred}."
    if len(own) == 1:
        return f"{opening}: its only other start is {own[0].text}."
    return f"{opening}: none of its {len(own)} other starts is free; for one, {own[0].text}."


def _is_barred(service: Service, reason: Reason) -> bool:
    return any((b.day, b.at, b.place) == (reason.day, reason.at, reason.place) for b in service.barred)


def why_not(problem: Problem, plan: Plan, service: Service, start: Start, held: set[str]) -> Reason:
    """What stands against one start, given the rest of the plan."""
    when = f"{problem.name_of_day(start.day)} at {clock(start.at)}"
    where = problem.name_of_place(start.place)
    if _day_is_used(problem, service, start, held):
        text = f"{when} at {where}, too close to another session of the same service"
        return Reason(start.day, start.at, start.place, "day-used", text)
    code, text = _blocker(problem, plan, start, start.at + problem.minutes_of(service.id, start))
    return Reason(start.day, start.at, start.place, code, f"{when} at {where}, {text}", _whom(code, where))


def _day_is_used(problem: Problem, service: Service, start: Start, held: set[str]) -> bool:
    index = problem.day_index(start.day)
    return any(abs(problem.day_index(day) - index) < service.days_apart for day in held)


def _whom(code: str, where: str) -> str:
    if code == "lunch" or code == "contract-day":
        return "whoever agrees the contract day"
    return f"the office of {where}"


def _blocker(problem: Problem, plan: Plan, start: Start, end: int) -> tuple[str, str]:
    """The rule in the way: a session or block then, the drive before or after, the day's ends, lunch."""
    day = problem.day(start.day)
    visits = plan.day(start.day).of_kind(ItemKind.SESSION, ItemKind.BLOCK)
    during = [item for item in visits if item.start < end and start.at < item.end]
    if during:
        item = during[0]
        return (
            "conflict",
            f"when you are at {_where(problem, item)} with {_name(problem, item)} until {clock(item.end)}",
        )
    before = [item for item in visits if item.end <= start.at]
    after = [item for item in visits if item.start >= end]
    reached = _reached(problem, day.start, day.start_place, before, start.place)
    if reached > start.at:
        came = f"from {_where(problem, before[-1])} until {clock(before[-1].end)}" if before else "the day's start"
        return "drive-before", f"when, coming {came}, you could not begin before {clock(reached)}"
    following = after[0] if after else None
    target = following.place if following else day.end_place
    deadline = following.start if following else day.end
    needed = end + problem.leg_minutes(start.place, target)
    if following is not None and following.kind is ItemKind.SESSION:
        needed += problem.setup_minutes
    if needed > deadline:
        what = f"{_name(problem, following)} at {_where(problem, following)}" if following else "the end of the day"
        return "drive-after", f"when you could not get from there to {what} before {clock(needed)}"
    return "lunch", "when no time for lunch would be left"


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


def cheapest_request(problem: Problem, plan: Plan, service: Service, halted: Callable[[], bool]) -> Request | None:
    """The barred start which, if it were free, would place one more session with the least added drive.

    Each is tried in the plan as it stands, so what is said is true.
    """
    best: Request | None = None
    for barred in service.barred[:MOST_REQUESTS]:
        if halted():
            break
        added = _added_drive(problem, plan, service, barred)
        if added is not None and (best is None or added < best.added_drive):
            best = _request(problem, service, barred, added)
    return best


def _request(problem: Problem, service: Service, barred: Barred, added: int) -> Request:
    where = problem.name_of_place(barred.place)
    driving = "no more driving" if added <= 0 else f"{added} minutes more driving"
    text = (
        f"If {problem.name_of_day(barred.day)} at {clock(barred.at)} at {where} could be used "
        f"(now: {barred.text}), one more session would be placed, with {driving}."
    )
    return Request(service.id, barred.day, barred.at, barred.place, text, barred.ask, added)


def _added_drive(problem: Problem, plan: Plan, service: Service, barred: Barred) -> int | None:
    """Drive minutes added by a session at a barred start, or ``None`` where it doesn't fit even then."""
    start = Start(barred.day, barred.at, barred.place, barred.space, None, barred.minutes)
    freed = replace(
        problem,
        services=tuple(
            replace(one, starts=(*one.starts, start)) if one.id == service.id else one for one in problem.services
        ),
    )
    state = state_of(build_model(freed), plan)
    if state is None:
        return None
    day = freed.day_index(barred.day)
    number = [one.id for one in freed.services].index(service.id)
    for node in state.by_service[day][number]:
        if _same(state.model, state.model.days[day].nodes[node], service, start):
            option = state.option(day, node)
            return None if option is None else option.route.drive - state.routes[day].drive
    return None


def _same(model: Model, node: Node, service: Service, start: Start) -> bool:
    place = model.place_ids[node.place]
    return (node.unit, node.start, place) == (service.id, start.at, start.place)


def state_of(model: Model, plan: Plan) -> State | None:
    """The plan as a state that sessions can be tried in; ``None`` if a session of it has no node."""
    state = State(model)
    if state.broken_days:
        return None
    for session in plan.sessions:
        day = model.problem.day_index(session.day)
        nodes = model.days[day].nodes
        wanted = [
            n
            for n, node in enumerate(nodes)
            if (node.unit, node.start) == (session.unit, session.at)
            and model.place_ids[node.place] == session.place
        ]
        if not wanted:
            return None
        if wanted[0] in state.visits[day]:
            continue
        option = state.option(day, wanted[0])
        if option is None:
            return None
        state.put(option)
    return state
