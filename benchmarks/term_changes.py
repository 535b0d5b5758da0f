"""What may change in the middle of a generated term: somebody new, a room that is gone, fewer hours."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

from schedule.planner.problem import Problem, Service, Start
from schedule.planner.term.following import standing_in
from schedule.planner.term.term import StandingTimetable, Term, TermResult
from schedule.terms.changing import TimetableChange

type Change = Callable[[Problem, StandingTimetable], Problem]


def middle_of(term: Term, ours: TermResult, change: Change) -> TimetableChange:
    """The second half of a term after a change, against what stands then."""
    half = term.weeks[len(term.weeks) // 2 :]
    standing = standing_in(half[0].id, ours.standing, ours.later)
    weeks = tuple(replace(week, problem=change(week.problem, standing)) for week in half)
    return TimetableChange(weeks, tuple(map(_kind, (week.problem for week in half))), standing)


def _kind(problem: Problem) -> str:
    """The kinds of the week's days, those that fall out left aside: A or B, and where a rotation is."""
    keys = {day.id: set[str]() for day in problem.days}
    for service in problem.services:
        for start in service.starts:
            keys[start.day].add(start.pattern_key or "")
    rotating = [min((key for key in mine if key.startswith("Day ")), default="") for mine in keys.values()]
    letters = {key[:2] for mine in keys.values() for key in mine if key[1:2] == " "}
    return " ".join([*sorted(letters), next(filter(None, rotating), "")])


def _somebody_new(problem: Problem, _standing: StandingTimetable) -> Problem:
    """A service as the first of the week that meets most often is, at its starts."""
    like = max(problem.services, key=lambda one: (one.sessions, one.id))
    return replace(problem, services=(*problem.services, replace(like, id="somebody new", label="Somebody new")))


def _without(problem: Problem, is_gone: Callable[[Service, Start], bool]) -> Problem:
    return replace(
        problem,
        services=tuple(
            replace(one, starts=tuple(start for start in one.starts if not is_gone(one, start)))
            for one in problem.services
        ),
    )


def _room_gone(problem: Problem, standing: StandingTimetable) -> Problem:
    """The school and kind of day with most standing sessions have no room anymore."""
    often = Counter((one.place, one.pattern_key) for one in standing.sessions)
    gone = max(often, key=lambda one: (often[one], one))
    return _without(problem, lambda _, start: (start.place, start.pattern_key) == gone)


def _other_hours(problem: Problem, standing: StandingTimetable) -> Problem:
    """The services of the school with most sessions after noon can't begin then anymore."""
    often = Counter(one.place for one in standing.sessions if one.at >= 12 * 60)
    if not often:
        return problem
    school = max(often, key=lambda one: (often[one], one))
    return _without(problem, lambda _, start: start.place == school and start.at >= 12 * 60)


CHANGES: Mapping[str, Change] = {
    "somebody new": _somebody_new,
    "a room gone": _room_gone,
    "mornings only": _other_hours,
}
