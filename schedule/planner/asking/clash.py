"""Which rules together keep owed minutes from being placed: a set from which none can be left out.

The rules about one service are named and can each be lifted from the problem. A deletion filter (Chinneck and
Dravnieks 1991) tries one after the other: whatever can be lifted while the session still doesn't fit has no part
in the clash. What is left is irreducible: none of it can be left out. Coarse rules ("the sessions at North School")
are then split into their parts and filtered again. In the time left a smallest set is sought (``smallest``).
"""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from schedule.planner.asking.smallest import smallest_clash
from schedule.planner.problem import Goal, Group, Pin, Place, Problem, Service, Start
from schedule.planner.result import Itinerary, Status, sessions_of_services
from schedule.planner.solve import solve
from schedule.planner.times import clock

MOST_SOLVES = 150
SECONDS_A_SOLVE = 2.0
LEAST_SECONDS = 1.5
MOST_SECONDS = 6.0
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


@dataclass(frozen=True, slots=True)
class Clash:
    """Why one more session of a service doesn't fit.

    ``complete``: every rule of the set was tried and none can be left out. Otherwise the search ended early and
    the set may hold rules that have no part in it. ``smallest``: no smaller set of rules clashes, proved.
    ``solves`` counts the problems solved for it.
    """

    service: str
    rules: tuple[Rule, ...]
    complete: bool
    solves: int
    sentence: str
    smallest: bool = False

    @property
    def ask(self) -> tuple[str, ...]:
        """Whom it would help to ask, each once."""
        return tuple(dict.fromkeys(rule.ask for rule in self.rules if rule.ask))


@dataclass(slots=True)
class _Trials:
    """Solves relaxed problems for the first goal alone, within a budget."""

    focus: Problem
    seed: int
    until: float
    monotonic: Callable[[], float]
    stop: Callable[[], bool] | None
    left: int
    solves: int = 0
    fits: list[tuple[Rule, ...]] = field(default_factory=list)
    """What was lifted each time that the session then fitted."""

    def clashes(self, lifted: Iterable[Rule], longest: float = SECONDS_A_SOLVE) -> bool | None:
        """Whether the session still doesn't fit without these rules; ``None`` where that isn't known."""
        seconds = min(longest, self.until - self.monotonic())
        if self.left <= 0 or seconds <= 0 or (self.stop is not None and self.stop()):
            return None
        self.left -= 1
        self.solves += 1
        problem, gone = self.focus, tuple(lifted)
        for rule in gone:
            problem = rule.lift(problem)
        result = solve(problem, seed=self.seed, time_limit=seconds, workers=1, stop=self.stop)
        if result.figures is None:
            return True if result.status is Status.INFEASIBLE else None
        if result.figures.unplaced == 0:
            self.fits.append(gone)
            return False
        return True if result.stages[0].status is Status.OPTIMAL else None


def clash_of(
    problem: Problem,
    plan: Itinerary,
    service_id: str,
    *,
    seed: int = 0,
    most_solves: int = MOST_SOLVES,
    time_limit: float = MOST_SECONDS,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> Clash | None:
    """The rules that keep one more session of the service out of the plan, all its other sessions being owed.

    ``None`` where that isn't so, or couldn't be proved within the limits (seconds and problems solved). Raises
    ``KeyError`` if the service is unknown.
    """
    focus = focused(problem, plan, service_id)
    trials = _Trials(focus, seed, monotonic() + time_limit, monotonic, stop, most_solves)
    if trials.clashes((), time_limit / 2) is not True:
        return None
    rules = rules_about(focus, service_id)
    kept, lifted, complete = _filtered(trials, rules, ())
    if complete and any(rule.parts for rule in kept):
        finer = [part for rule in kept for part in (rule.parts or (rule,))]
        kept, lifted, complete = _filtered(trials, finer, lifted)
    smallest = False
    if complete:
        kept, smallest = _smallest(trials, rules, kept)
    sentence = _sentence(focus, service_id, kept, complete, smallest)
    return Clash(service_id, tuple(kept), complete, trials.solves, sentence, smallest)


def clashes_of(
    problem: Problem,
    plan: Itinerary,
    services: Sequence[str],
    *,
    seed: int = 0,
    time_limit: float = MOST_SECONDS,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
) -> dict[str, Clash]:
    """The clashes of several services by id, one after the other within ``time_limit`` seconds in all.

    Services whose turn didn't come, or of which nothing could be proved, are left out.
    """
    until = monotonic() + time_limit
    found: dict[str, Clash] = {}
    for number, service in enumerate(services):
        left = until - monotonic()
        if left <= 0:
            break
        share = max(min(left, LEAST_SECONDS), left / (len(services) - number))
        clash = clash_of(problem, plan, service, seed=seed, time_limit=share, stop=stop, monotonic=monotonic)
        if clash is not None:
            found[service] = clash
    return found


def _filtered(
    trials: _Trials, rules: Sequence[Rule], lifted: tuple[Rule, ...]
) -> tuple[list[Rule], tuple[Rule, ...], bool]:
    """What is left of the rules, what was lifted, and whether every trial had an answer."""
    kept: list[Rule] = []
    complete = True
    for number, rule in enumerate(rules):
        answer = trials.clashes((*lifted, rule))
        if answer is None:
            return [*kept, *rules[number:]], lifted, False
        if answer:
            lifted = (*lifted, rule)
        else:
            kept.append(rule)
    return kept, lifted, complete


def _smallest(trials: _Trials, rules: Sequence[Rule], kept: Sequence[Rule]) -> tuple[list[Rule], bool]:
    """A smallest set of the finest rules that clash, and whether that is proved; else the one that is known."""
    finest = _finest(rules)
    numbers = {id(rule): number for number, rule in enumerate(finest)}
    everything = frozenset(numbers.values())

    def without(lifted: Iterable[Rule]) -> frozenset[int]:
        return everything - {numbers[id(part)] for part in _finest(lifted)}

    def clashes(some: frozenset[int]) -> bool | None:
        return trials.clashes(rule for number, rule in enumerate(finest) if number not in some)

    known = frozenset(numbers[id(rule)] for rule in kept)
    found, proved = smallest_clash(len(finest), clashes, known, [without(lifted) for lifted in trials.fits])
    return [rule for number, rule in enumerate(finest) if number in found], proved


def _finest(rules: Iterable[Rule]) -> list[Rule]:
    return [part for rule in rules for part in (rule.parts or (rule,))]


# ---- the question about one service ----------------------------------------------------------------------


def focused(problem: Problem, plan: Itinerary, service_id: str) -> Problem:
    """The problem in which what the plan holds is owed, and one session more of the service; nothing is wished."""
    covered = sessions_of_services(problem, plan.sessions)
    more = problem.unit(service_id)
    services = tuple(replace(one, sessions=len(covered[one.id]) + (one.id == more.id)) for one in problem.services)
    return replace(
        problem,
        services=services,
        goals=(Goal.UNPLACED,),
        current=None,
        preparation=None,
        longest_stretch=None,
        days=tuple(replace(day, preparation_minutes=0) for day in problem.days),
    )


def rules_about(problem: Problem, service_id: str) -> list[Rule]:
    """Every rule that could give way for one service, those that are most likely beside the point first."""
    service = _service(problem, service_id)
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


def _service(problem: Problem, service_id: str) -> Service:
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
    for barred in service.barred:
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


# ---- in words --------------------------------------------------------------------------------------------


def _sentence(problem: Problem, service_id: str, rules: Sequence[Rule], complete: bool, smallest: bool) -> str:
    service = _service(problem, service_id)
    opening = f"One more session of {service.minutes} minutes of {service.label or service.id}"
    if not rules:
        return f"{opening} fits nowhere: it has no start in these days, whatever else gives way."
    listed = "; ".join(rule.text for rule in rules)
    if not complete:
        return f"{opening} doesn't fit. The rules that clash are among these (the search ended early): {listed}."
    if len(rules) == 1:
        return f"{opening} is kept out by one thing alone: {listed}."
    which = "the smallest set that does" if smallest else "none of these can be left out"
    return f"{opening} is kept out by {len(rules)} things that clash with one another ({which}): {listed}."
