"""The judge of a term: reads a finished answer and says which rules it breaks.

It shares no code with what makes terms: it looks at the timetable, the written weeks and what is said of them.
Every week has to pass the judge of weeks (``check``) besides.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator

from schedule.planner.check import Violation, check
from schedule.planner.problem import Problem, Session
from schedule.planner.term.term import PlannedWeek, StandingSession, StandingTimetable, Term, TermResult, TermWeek


def check_term(term: Term, result: TermResult) -> tuple[Violation, ...]:
    """Every broken rule. Never raises for a bad answer."""
    if [week.id for week in result.weeks] != [week.id for week in term.weeks]:
        return (Violation("weeks", "", "The answer doesn't hold the term's weeks in their order."),)
    found = [Violation("term", "", text) for rule in TERM_RULES for text in rule(term, result)]
    for week, planned in zip(term.weeks, result.weeks, strict=True):
        verdict = check(week.problem, planned.itinerary)
        found += verdict.violations
        figures = verdict.figures
        counted = figures.unplaced, figures.wishes, figures.driving
        if counted != (planned.figures.unplaced, planned.figures.wishes, planned.figures.driving):
            found.append(Violation("figures", week.id, f"The judge counts {counted}, the week says otherwise."))
        for rule in WEEK_RULES:
            name = getattr(rule, "__name__", "").replace("_", " ")
            found += [Violation(name, week.id, text) for text in rule(week, _stands_in(week, result), planned)]
    return tuple(found)


# ---- rules of the term -----------------------------------------------------------------------------------


def stands_where_it_can_be_held(term: Term, result: TermResult) -> list[str]:
    """A timetable made here holds only what some week of the term can hold."""
    if term.standing is not None:
        return []
    return [
        f"{one.unit} stands on {one.pattern_key} at {one.at}, where no week can hold it."
        for one in _all_that_stands(result)
        if not any(week.problem.has_unit(one.unit) and _dates(week.problem, one) for week in term.weeks)
    ]


def a_timetable_changes_where_a_service_does(term: Term, result: TermResult) -> list[str]:
    """One that is made here follows another only from a week whose services aren't those of the week before."""
    if term.standing is not None:
        return []
    owed = {week.id: {service.id for service in week.problem.services} for week in term.weeks}
    before = dict(zip([week.id for week in term.weeks][1:], owed.values(), strict=False))
    wrong = [
        f"The timetable changes from {one.since}, where no service begins or ends."
        for one in result.later
        if one.since not in before or owed[one.since] == before[one.since]
    ]
    dates = [one.since for one in result.later]
    return wrong if dates == sorted(set(dates)) else [*wrong, "Timetables don't follow each other."]


def what_changes_can_be_held_then(term: Term, result: TermResult) -> list[str]:
    """What a timetable made here holds anew can be held in some week between its first and the next one's."""
    if term.standing is not None:
        return []
    wrong: list[str] = []
    before = set(result.standing.sessions)
    ends = [*(one.since for one in result.later[1:]), "9999"]
    for one, end in zip(result.later, ends, strict=False):
        then = [week.problem for week in term.weeks if one.since <= week.id < end]
        wrong += [
            f"{new.unit} stands on {new.pattern_key} at {new.at} from {one.since}, where no week can hold it."
            for new in one.standing.sessions
            if new not in before and not _held_somewhere(then, new)
        ]
        before = set(one.standing.sessions)
    return wrong


def _held_somewhere(problems: Iterable[Problem], one: StandingSession) -> bool:
    return any(problem.has_unit(one.unit) and _dates(problem, one) for problem in problems)


def bounds_are_below(_term: Term, result: TermResult) -> list[str]:
    """No bound lies above what the term does."""
    wrong = [
        f"The week of {week.id} is said to drive {week.least_driving} at least and drives {week.figures.driving}."
        for week in result.weeks
        if week.least_driving > week.figures.driving
    ]
    if result.bound_unplaced > result.unplaced or result.bound > result.drive_minutes:
        wrong.append("A bound of the term lies above the term.")
    return wrong


def the_bound_with_rotation_is_below(term: Term, result: TermResult) -> list[str]:
    """It holds for one timetable, and for weeks with nothing unusual that hold all that is owed at its times."""
    if result.bound_with_rotation is not None and result.later:
        return ["A bound of one rotation is given for a term whose timetable changes."]
    whole = all(
        planned.kept == sum(service.sessions for service in week.problem.services)
        for week, planned in zip(term.weeks, result.weeks, strict=True)
        if not week.unusual
    )
    bound = result.bound_with_rotation
    if whole and not result.unplaced and bound is not None and bound > result.drive_minutes:
        return [f"With its rotation the term is said to drive {bound} at least and drives {result.drive_minutes}."]
    return []


# ---- rules of a week against the timetable -------------------------------------------------------------


def what_is_held_is_counted(week: TermWeek, standing: StandingTimetable, planned: PlannedWeek) -> list[str]:
    """Kept and departing sessions make up those expected; none is counted that isn't held where it stands."""
    held = _held(week.problem, planned)
    at_their_time = sum(
        _is_held(week.problem, held, one, day)
        for one in standing.sessions
        if week.problem.has_unit(one.unit)
        for day in _dates(week.problem, one)
    )
    away = sum(departure.standing is not None for departure in planned.departures)
    wrong: list[str] = []
    if planned.kept > at_their_time:
        wrong.append(f"{planned.kept} sessions are said to be kept, {at_their_time} are.")
    if planned.kept + away != planned.expected or not planned.kept <= planned.open <= planned.expected:
        wrong.append("Sessions kept and sessions that depart don't add up.")
    return wrong


def departures_are_true(week: TermWeek, _standing: StandingTimetable, planned: PlannedWeek) -> list[str]:
    """A session said to depart isn't held at its time, and the one said to take its place is held."""
    held = _held(week.problem, planned)
    written = {(one.unit, one.day, one.at, one.place) for one in planned.itinerary.sessions}
    wrong: list[str] = []
    for departure in planned.departures:
        one, instead = departure.standing, departure.session
        days = [] if one is None else _dates(week.problem, one)
        if one is not None and days and all(_is_held(week.problem, held, one, day) for day in days):
            wrong.append(f"{one.unit} is said to depart and is held at its time.")
        if instead is not None and (instead.unit, instead.day, instead.at, instead.place) not in written:
            wrong.append(f"{instead.unit} is said to be held on {instead.day} and isn't.")
    return wrong


def nothing_departs_unsaid(week: TermWeek, standing: StandingTimetable, planned: PlannedWeek) -> list[str]:
    """Of each service as many standing sessions are kept or said to depart as come, or as are owed."""
    problem, held = week.problem, _held(week.problem, planned)
    said: Counter[str] = Counter()
    for departure in planned.departures:
        said.update(problem.members(departure.standing.unit) if departure.standing is not None else ())
    come: Counter[str] = Counter()
    for one in standing.sessions:
        if problem.has_unit(one.unit):
            days = _dates(problem, one)
            come.update(dict.fromkeys(problem.members(one.unit), len(days)))
            kept = sum(_is_held(problem, held, one, day) for day in days)
            said.update(dict.fromkeys(problem.members(one.unit), kept))
    alone = [service for service in problem.services if not _in_group(standing, problem, service.id)]
    return [
        f"{service.id} departs from its standing time and nothing is said."
        for service in alone
        if said[service.id] < min(come[service.id], service.sessions)
    ]


def _in_group(standing: StandingTimetable, problem: Problem, service: str) -> bool:
    """Whether a service stands in a group: which of its sessions are expected is then a matter of order."""
    units = {one.unit for one in standing.sessions if problem.has_unit(one.unit)}
    return any(len(problem.members(unit)) > 1 and service in problem.members(unit) for unit in units)


def _stands_in(week: TermWeek, result: TermResult) -> StandingTimetable:
    """What stands in a week."""
    found = result.standing
    for one in result.later:
        if one.since <= week.id:
            found = one.standing
    return found


def _all_that_stands(result: TermResult) -> list[StandingSession]:
    return [*result.standing.sessions, *(session for one in result.later for session in one.standing.sessions)]


# ---- reading ----------------------------------------------------------------------------------------------


def _dates(problem: Problem, one: StandingSession) -> list[str]:
    """The days on which the unit could begin at its standing time."""
    times = {
        start.day
        for start in problem.starts_of(one.unit)
        if (start.pattern_key, start.at, start.place) == (one.pattern_key, one.at, one.place)
    }
    return sorted(times)


def _held(problem: Problem, planned: PlannedWeek) -> set[tuple[str, str, int, str]]:
    return set(_members_held(problem, planned.itinerary.sessions))


def _members_held(problem: Problem, sessions: tuple[Session, ...]) -> Iterator[tuple[str, str, int, str]]:
    for session in sessions:
        if problem.has_unit(session.unit):
            for member in problem.members(session.unit):
                yield member, session.day, session.at, session.place


def _is_held(problem: Problem, held: set[tuple[str, str, int, str]], one: StandingSession, day: str) -> bool:
    return all((member, day, one.at, one.place) in held for member in problem.members(one.unit))


TERM_RULES: tuple[Callable[[Term, TermResult], list[str]], ...] = (
    stands_where_it_can_be_held,
    a_timetable_changes_where_a_service_does,
    what_changes_can_be_held_then,
    bounds_are_below,
    the_bound_with_rotation_is_below,
)
WEEK_RULES: tuple[Callable[[TermWeek, StandingTimetable, PlannedWeek], list[str]], ...] = (
    what_is_held_is_counted,
    departures_are_true,
    nothing_departs_unsaid,
)
