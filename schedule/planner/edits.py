"""For a page: re-time a day after a move by hand, say which rules it breaks, and list where a session fits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from schedule.planner.check import Verdict, Violation, check
from schedule.planner.explain import state_of
from schedule.planner.model import Model, build_model
from schedule.planner.objective import figures_of
from schedule.planner.problem import Day, Problem, ProblemError, Session
from schedule.planner.result import DayPlan, Figures, Item, ItemKind, Plan
from schedule.planner.routes import best_route, day_plan
from schedule.planner.state import Option, State


@dataclass(frozen=True, slots=True)
class Move:
    """One change by hand. Without ``old`` a session is added, without ``new`` it is taken out."""

    old: Session | None = None
    new: Session | None = None


@dataclass(frozen=True, slots=True)
class Edited:
    """The plan after a change: re-timed, judged, with the figures before it."""

    plan: Plan
    verdict: Verdict
    before: Figures

    @property
    def added_drive(self) -> int:
        """Minutes at the wheel more than before (less, if negative)."""
        return self.verdict.figures.driving - self.before.driving


@dataclass(frozen=True, slots=True)
class PlaceOption:
    """One legal start for a session given the rest of the plan."""

    session: Session
    added_drive: int
    added_wishes_missed: int


def evaluate_edit(problem: Problem, plan: Plan, move: Move) -> Edited:
    """The plan after one move, days re-timed, with every broken rule in words. Nothing is refused here."""
    sessions = [session for session in plan.sessions if not _is(session, move.old)]
    if move.new is not None:
        sessions.append(move.new)
    edited = plan_from_sessions(problem, sessions)
    return Edited(edited, check(problem, edited), check(problem, plan).figures)


def plan_from_sessions(problem: Problem, sessions: Sequence[Session]) -> Plan:
    """Sessions alone as a timed plan. Where a rule breaks the day is timed as best it can be."""
    model = build_model(replace(problem, pins=()))
    return Plan(
        tuple(
            _timed_day(problem, model, day, [one for one in sessions if one.day == day.id]) for day in problem.days
        )
    )


def day_timeline(
    problem: Problem, day_id: str, sessions: Sequence[Session]
) -> tuple[DayPlan, tuple[Violation, ...]]:
    """One day's itinerary for these sessions and the rules that it breaks. Raises ``KeyError``: no such day."""
    alone = replace(problem, pins=())
    timed = _timed_day(problem, build_model(alone), problem.day(day_id), sessions)
    others = tuple(timed if day.id == day_id else DayPlan(day.id, ()) for day in problem.days)
    verdict = check(alone, Plan(others))
    return timed, tuple(one for one in verdict.violations if one.day == day_id)


def place_options(
    problem: Problem, plan: Plan, service_id: str, moving: Session | None = None
) -> tuple[PlaceOption, ...]:
    """All legal starts for one session of a service, least added driving first.

    ``moving`` is a session of the plan that would be taken out first. Raises ``ProblemError`` if the
    service is unknown or the plan itself breaks a rule.
    """
    numbers = [service.id for service in problem.services]
    if service_id not in numbers:
        raise ProblemError("service", f"There is no service {service_id!r}.", "Use the id of a service.")
    kept = Plan(tuple(replace(day, items=_without(day, moving)) for day in plan.days))
    pins = tuple(
        pin
        for pin in problem.pins
        if moving is None or (pin.unit, pin.day, pin.at) != (moving.unit, moving.day, moving.at)
    )
    model = build_model(replace(problem, pins=pins))
    state = state_of(model, kept)
    if state is None:
        raise ProblemError("plan", "The plan breaks a rule.", "Mend the plan before placing more.")
    before = check(problem, plan).figures
    found: list[PlaceOption] = []
    for day in range(len(problem.days)):
        options = (state.option(day, node) for node in state.by_service[day][numbers.index(service_id)])
        found.extend(_place_option(state, option, before) for option in options if option is not None)
    return tuple(sorted(found, key=lambda one: (one.added_wishes_missed, one.added_drive)))


def _place_option(state: State, option: Option, before: Figures) -> PlaceOption:
    model = state.model
    placed = model.days[option.day].nodes[option.node]
    routes = [option.route if route.day == option.day else route for route in state.routes]
    figures = figures_of(model, routes)
    session = Session(
        placed.unit or "",
        model.problem.days[option.day].id,
        placed.start,
        model.place_ids[placed.place],
        placed.space,
        placed.end - placed.start,
    )
    return PlaceOption(session, figures.driving - before.driving, figures.wishes - before.wishes)


# ---- helpers ---------------------------------------------------------------------------------------------


def _is(session: Session, other: Session | None) -> bool:
    return other is not None and (session.unit, session.day, session.at) == (other.unit, other.day, other.at)


def _without(day: DayPlan, moving: Session | None) -> tuple[Item, ...]:
    if moving is None or moving.day != day.day:
        return day.items
    return tuple(
        item
        for item in day.items
        if not (item.kind is ItemKind.SESSION and (item.unit, item.start) == (moving.unit, moving.at))
    )


def _timed_day(problem: Problem, model: Model, day: Day, sessions: Sequence[Session]) -> DayPlan:
    strict = _strict_day(problem, model, day, sessions)
    return _as_best_it_can(problem, day, sessions) if strict is None else strict


def _strict_day(problem: Problem, model: Model, day: Day, sessions: Sequence[Session]) -> DayPlan | None:
    """The day timed within all rules, or ``None``."""
    day_model = model.days[problem.day_index(day.id)]
    visits = [n for n in day_model.required if not day_model.nodes[n].session]
    for session in sessions:
        wanted = [
            n
            for n, node in enumerate(day_model.nodes)
            if (node.unit, node.start) == (session.unit, session.at)
            and model.place_ids[node.place] == session.place
        ]
        if not wanted:
            return None
        visits.append(wanted[0])
    if len(set(visits)) < len(visits):
        return None
    route = best_route(day_model, sorted(visits))
    if route is None:
        return None
    spaces = {(one.unit, one.at): one.space for one in sessions if one.space is not None}
    timed = day_plan(day_model, route)
    items = tuple(
        replace(item, space=spaces.get((item.unit or "", item.start), item.space))
        if item.kind is ItemKind.SESSION
        else item
        for item in timed.items
    )
    return DayPlan(day.id, items)


def _as_best_it_can(problem: Problem, day: Day, sessions: Sequence[Session]) -> DayPlan:
    """Sessions and blocks at their times, each drive straight after the visit before it, lunch if it fits."""
    visits = [_session_item(problem, one) for one in sessions]
    visits += [Item(ItemKind.BLOCK, b.start, b.end, b.place, label=b.label) for b in day.blocks]
    visits.sort(key=lambda item: (item.start, item.end))
    items: list[Item] = []
    here, at = day.start_place, day.start
    for visit in visits:
        place = visit.place if visit.place is not None else here
        if here is not None and place is not None and here != place:
            items.append(_drive_item(problem, here, place, at))
        items.append(replace(visit, place=place))
        here, at = place, visit.end
    if here is not None and day.end_place is not None and here != day.end_place:
        items.append(_drive_item(problem, here, day.end_place, at))
    items.extend(_lunch_item(day, items))
    return DayPlan(day.id, tuple(sorted(items, key=lambda item: (item.start, item.end))))


def _session_item(problem: Problem, session: Session) -> Item:
    minutes = session.minutes
    if minutes is None:
        minutes = problem.unit(session.unit).minutes if problem.has_unit(session.unit) else 30
    return Item(
        ItemKind.SESSION,
        session.at,
        session.at + minutes,
        session.place,
        unit=session.unit,
        space=session.space,
        label=problem.name_of_unit(session.unit),
    )


def _drive_item(problem: Problem, origin: str, to: str, at: int) -> Item:
    leg = problem.leg_minutes(origin, to)
    return Item(ItemKind.DRIVE, at, at + leg, origin, to, drive_minutes=problem.drive(origin, to))


def _lunch_item(day: Day, items: Sequence[Item]) -> list[Item]:
    if day.lunch is None:
        return []
    earliest = max(day.lunch.earliest, day.start)
    latest = min(day.lunch.latest_end, day.end) - day.lunch.minutes
    for at in range(earliest, latest + 1):
        end = at + day.lunch.minutes
        if all(item.end <= at or end <= item.start for item in items):
            return [Item(ItemKind.LUNCH, at, end)]
    return []
