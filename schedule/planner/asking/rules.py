"""Rules about one service that could give way, each with what it would be like without it and whom to ask."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.problem import NOT_ASKED, Group, Pin, Place, Problem, Service, Start
from schedule.planner.times import clock

DAY_END = 24 * 60 - 1
MOST_NAMED = 4

type Lift = Callable[[Problem], Problem]


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule that could give way. ``lift`` takes it out of a problem, ``ask`` is whom it would help to ask.

    ``parts`` are finer rules that together say the same.
    """

    code: str
    text: str
    lift: Lift = field(repr=False, compare=False)
    ask: str = ""
    parts: tuple["Rule", ...] = ()


def rules_about(problem: Problem, service_id: str) -> list[Rule]:
    """Every rule that could give way for one service, those that are most likely beside the point first."""
    service = service_of(problem, service_id)
    own = {start.place for start in service.starts} | {barred.place for barred in service.barred}
    others = _others(problem, service_id)
    far = [_sessions_rule(problem, place, held) for place, held in others.items() if place not in own]
    near = [_sessions_rule(problem, place, held) for place, held in others.items() if place in own]
    return [
        *_setup_rule(problem),
        *_day_rules(problem),
        *far,
        *_apart_rules(service),
        *near,
        *_barred_rules(service),
    ]


def service_of(problem: Problem, service_id: str) -> Service:
    """The service of that id."""
    return next(one for one in problem.services if one.id == service_id)


def _others(problem: Problem, service_id: str) -> dict[str, list[Service]]:
    """The other services with sessions, by the place of their first start."""
    found: dict[str, list[Service]] = {}
    for one in problem.services:
        if one.id != service_id and one.sessions > 0:
            starts = one.starts or tuple(s for g in problem.groups if one.id in g.members for s in g.starts)
            found.setdefault(starts[0].place if starts else "", []).append(one)
    return found


def _sessions_rule(problem: Problem, place: str, held: list[Service]) -> Rule:
    count = sum(one.sessions for one in held)
    where = problem.name_of_place(place)
    parts = tuple(
        Rule("sessions", _session_text(problem, one, where), _without((one.id,)), f"the office of {where}")
        for one in held
    )
    text = parts[0].text if len(parts) == 1 else f"the {count} other sessions at {where}"
    return Rule("sessions", text, _without([one.id for one in held]), parts[0].ask, parts if len(parts) > 1 else ())


def _session_text(problem: Problem, one: Service, where: str) -> str:
    times = "the session" if one.sessions == 1 else f"the {one.sessions} sessions"
    return f"{times} of {problem.name_of_unit(one.id)} at {where}"


def _without(ids: Sequence[str]) -> Lift:
    """Nothing owed of these services: not in groups and not pinned either."""
    gone = frozenset(ids)

    def lift(problem: Problem) -> Problem:
        return replace(
            problem,
            services=tuple(replace(one, sessions=0) if one.id in gone else one for one in problem.services),
            groups=tuple(left for one in problem.groups if (left := _group_without(one, gone)) is not None),
            pins=tuple(pin for pin in problem.pins if not gone & set(problem.members(pin.unit))),
        )

    return lift


def _group_without(group: Group, gone: frozenset[str]) -> Group | None:
    members = tuple(member for member in group.members if member not in gone)
    return replace(group, members=members) if members else None


def _setup_rule(problem: Problem) -> list[Rule]:
    if not problem.setup_minutes:
        return []
    text = f"{problem.setup_minutes} minutes to set up before a session"
    return [Rule("setup", text, lambda one: replace(one, setup_minutes=0))]


def _day_rules(problem: Problem) -> list[Rule]:
    agreed = "whoever sets your contract day"
    found: list[Rule] = []
    if any(day.blocks for day in problem.days):
        found.append(Rule("blocks", "meetings and duties", _no_blocks, "whoever calls the meetings"))
    if problem.pins:
        found.append(_pins_rule(problem))
    if len(problem.places) > 1:
        found.append(Rule("drives", "the way between buildings", _no_ways))
    found.append(Rule("contract-day", "where and when the contract day begins and ends", _open_days, agreed))
    if any(day.lunch for day in problem.days):
        found.append(Rule("lunch", "your lunch", _no_lunch, agreed))
    return found


def _pins_rule(problem: Problem) -> Rule:
    parts = tuple(
        Rule(
            "pin",
            f"the pin of {problem.name_of_unit(pin.unit)} on {problem.name_of_day(pin.day)} at {clock(pin.at)}",
            _unpinned(pin),
        )
        for pin in problem.pins
    )
    if len(parts) == 1:
        return parts[0]
    return Rule("pin", f"the {len(parts)} pins", lambda one: replace(one, pins=()), parts=parts)


def _unpinned(gone: Pin) -> Lift:
    return lambda problem: replace(problem, pins=tuple(pin for pin in problem.pins if pin != gone))


def _no_blocks(problem: Problem) -> Problem:
    return replace(problem, days=tuple(replace(day, blocks=()) for day in problem.days))


def _no_lunch(problem: Problem) -> Problem:
    return replace(problem, days=tuple(replace(day, lunch=None) for day in problem.days))


def _open_days(problem: Problem) -> Problem:
    days = (replace(day, start=0, end=DAY_END, start_place=None, end_place=None) for day in problem.days)
    return replace(problem, days=tuple(days))


def _no_ways(problem: Problem) -> Problem:
    ids = [place.id for place in problem.places]
    return replace(
        problem,
        places=tuple(Place(place.id, place.name) for place in problem.places),
        drive_minutes={a: {b: 0 for b in ids if b != a} for a in ids},
    )


def _apart_rules(service: Service) -> list[Rule]:
    if service.sessions < 2 or service.days_apart == 0:
        return []
    name, days = service.label or service.id, service.days_apart
    text = f"sessions of {name} on different days" if days == 1 else f"{days} days between sessions of {name}"

    def lift(problem: Problem) -> Problem:
        return _changed(problem, service.id, lambda one: replace(one, days_apart=0))

    return [Rule("days-apart", text, lift, "the plan's team")]


def _barred_rules(service: Service) -> list[Rule]:
    """What keeps starts from the service, by kind; each kind in the words of its bars."""
    kinds: dict[tuple[str, str], dict[str, None]] = {}
    for barred in (one for one in service.barred if one.reason_code not in NOT_ASKED):
        kinds.setdefault((barred.reason_code, barred.ask), {})[barred.text] = None
    found: list[Rule] = []
    for (code, ask), texts in kinds.items():
        parts = tuple(Rule(code, text, _opened(service.id, code, ask, (text,)), ask) for text in texts)
        if len(parts) == 1:
            found.append(parts[0])
        else:
            listed = "; ".join(list(texts)[:MOST_NAMED])
            found.append(Rule(code, listed, _opened(service.id, code, ask, tuple(texts)), ask, parts))
    return found


def _opened(service_id: str, code: str, ask: str, texts: tuple[str, ...]) -> Lift:
    """The starts that these bars keep from the service, as its starts."""

    def more(one: Service) -> Service:
        starts = tuple(
            Start(bar.day, bar.at, bar.place, bar.space, None, bar.minutes)
            for bar in one.barred
            if (bar.reason_code, bar.ask) == (code, ask) and bar.text in texts
        )
        return replace(one, starts=(*one.starts, *starts))

    return lambda problem: _changed(problem, service_id, more)


def _changed(problem: Problem, service_id: str, change: Callable[[Service], Service]) -> Problem:
    return replace(
        problem, services=tuple(change(one) if one.id == service_id else one for one in problem.services)
    )
