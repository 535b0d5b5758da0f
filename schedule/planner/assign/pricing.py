"""What a teacher with a set of services comes to: a week of the planner's own, not a sum of minutes.

Which day each session is held on is searched for in a rough picture (``search``), each day is then timed to the
minute in the planner's day model (``timing``), with drives, lunch, preparation, blocks and the buildings' bells,
and the planner's judge counts what it comes to. Where spaces and classes' periods aren't known before the year,
they are left out: the real week is no easier than this one.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from schedule.planner.assign.answer import Worth, YearLoad
from schedule.planner.assign.bundles import Bundle
from schedule.planner.assign.question import Itinerant, Staffing, YearService
from schedule.planner.assign.rough.ground import ground_of
from schedule.planner.assign.rough.search import search
from schedule.planner.assign.rough.terrain import Rough, Terrain
from schedule.planner.assign.timing import RoughDay, TimedWeek, Timing
from schedule.planner.problem import DRIVING_FIRST, Goal, Problem, Service, Start
from schedule.planner.result import GoalFigures, Itinerary

SLACKS = (0, 10, 25)
"""Minutes a day left over on purpose, one after the other, as long as the exact week doesn't place everything."""

WEEKS_TRIED = len(SLACKS) + 1
"""Weeks that are tried at most for one price, the last of them without preparation."""

ROUND, ROUND_A_TEACHER, ROUND_A_BUNDLE, LAYOUT = 5e-5, 4e-5, 1e-7, 3e-3
"""Seconds of work of a round of search, more for each teacher and bundle, and of laying out a session."""

GOALS = tuple(goal for goal in DRIVING_FIRST if goal in {Goal.UNPLACED, Goal.WISHES, Goal.DRIVING})


def week_of(question: Staffing, teacher: Itinerant, services: Iterable[YearService]) -> Problem:
    """The planner's question for a teacher with these services."""
    given = tuple(services)
    used = {one.place for one in given} | _places_of(teacher)
    places = tuple(one for one in question.places if one.id in used)
    drives = {
        origin.id: {to.id: question.drive_minutes[origin.id][to.id] for to in places if to is not origin}
        for origin in places
    }
    return Problem(
        places=places,
        drive_minutes=drives,
        days=teacher.days,
        services=tuple(_service(question, teacher, one) for one in given),
        goals=GOALS,
    )


def _places_of(teacher: Itinerant) -> set[str]:
    """Where a teacher is anyway: base, ends of days, blocks."""
    ends = [place for day in teacher.days for place in (day.start_place, day.end_place)]
    blocks = [block.place for day in teacher.days for block in day.blocks]
    return {place for place in (teacher.base, *ends, *blocks) if place is not None}


def _service(question: Staffing, teacher: Itinerant, service: YearService) -> Service:
    known = {day.id for day in teacher.days}
    starts = tuple(start for start in service.starts if start.day in known) or tuple(
        Start(day.id, at, service.place)
        for day in teacher.days
        for at in question.site(service.place).starts(service.minutes)
        if not service.starts and day.start <= at and at + service.minutes <= day.end
    )
    return Service(service.id, service.minutes, service.sessions, starts, days_apart=service.days_apart)


@dataclass(slots=True)
class Pricer:
    """Prices teachers with sets of services, each set once. ``rounds`` of search for the days of one week.

    ``work``: seconds of work of all weeks so far. No clock ends a week: the same seed and rounds give the same
    price anywhere.
    """

    question: Staffing
    rounds: int
    seed: int = 0
    work: float = 0.0
    known: dict[tuple[str, frozenset[str]], YearLoad] = field(default_factory=dict)

    def price(self, teacher_id: str, service_ids: Iterable[str], days: list[RoughDay] | None = None) -> YearLoad:
        """That teacher's load with these services. ``days``: a rough week of them that is there already."""
        wanted = frozenset(service_ids)
        if (teacher_id, wanted) not in self.known:
            given = tuple(one for one in self.question.services if one.id in wanted)
            self.known[teacher_id, wanted] = self._priced(self.question.teacher(teacher_id), given, days)
        return self.known[teacher_id, wanted]

    def loads(self, assignment: Mapping[str, str]) -> tuple[YearLoad, ...]:
        """Every teacher's load, in the question's order."""
        given: dict[str, list[str]] = {one.id: [] for one in self.question.teachers}
        for service, teacher in assignment.items():
            given[teacher].append(service)
        return tuple(self.price(one.id, given[one.id]) for one in self.question.teachers)

    def _priced(self, teacher: Itinerant, given: tuple[YearService, ...], days: list[RoughDay] | None) -> YearLoad:
        week = self._best_week(teacher, given, days)
        owed = sum(one.week_minutes for one in given)
        figures = GoalFigures(owed, 0, 0, 0, 0) if week is None else week.figures
        plan = None if week is None else week.plan
        return YearLoad(
            teacher=teacher.id,
            services=tuple(one.id for one in given),
            students=tuple(dict.fromkeys(student for one in given for student in one.students)),
            places=tuple(dict.fromkeys(one.place for one in given)),
            owed=owed,
            placed=owed - figures.unplaced,
            unplaced=figures.unplaced,
            driving=figures.driving,
            short=figures.wishes,
            miles=_miles(self.question, plan),
            contract=teacher.contract_minutes,
            plan=plan,
        )

    def _best_week(
        self, teacher: Itinerant, given: tuple[YearService, ...], days: list[RoughDay] | None
    ) -> TimedWeek | None:
        """The best of the weeks up to the first that lacks nothing; ``None`` without lunch or blocks."""
        timing = Timing(week_of(self.question, teacher, given))
        self.work += LAYOUT * sum(one.sessions for one in given)
        tried: list[TimedWeek] = []
        for rough in self._rough_weeks(teacher, given, days):
            week = timing.week(rough)
            if week is None:
                return None
            tried.append(week)
            if not (week.figures.unplaced or week.figures.wishes):
                break
        return min(tried, key=_rank)

    def _rough_weeks(
        self, teacher: Itinerant, given: tuple[YearService, ...], days: list[RoughDay] | None
    ) -> Iterator[list[RoughDay]]:
        """The days given, then some with more and more minutes left over, without preparation, and with nothing.

        Where nothing is put on days beforehand the planner finds room session by session, little driving last.
        """
        if given and days is not None:
            yield days
        prepared = max(day.preparation_minutes for day in teacher.days)
        for slack in dict.fromkeys((*SLACKS, -prepared)) if given else ():
            self.work += round_work(1, len(given)) * self.rounds
            yield rough_week(self.question, teacher, given, slack, self.rounds, self.seed)
        yield [RoughDay((), ()) for _ in teacher.days]


def rough_week(
    question: Staffing, teacher: Itinerant, given: tuple[YearService, ...], slack: int, rounds: int, seed: int
) -> list[RoughDay]:
    """One teacher's services spread over days with little driving, in the rough picture of ``ground``."""
    alone = replace(question, teachers=(teacher,), services=given)
    parts = tuple(Bundle((one,), frozenset(one.students), (teacher.id,), {}, {teacher.id: 0}) for one in given)
    ground = ground_of(alone, parts, Worth(), {teacher.id: slack})
    part = search(ground, np.zeros(len(parts), np.int64), 0.0, rounds, seed)
    return rough_days(alone, ground, part, 0, [one.id for one in given])


def rough_days(
    question: Staffing, ground: Terrain, part: Rough, teacher: int, services: list[str]
) -> list[RoughDay]:
    """What a teacher has on each day in an assignment of the search; services by their numbers there."""
    places = [one.id for one in question.places]
    mine = np.repeat(part.owner, np.diff(ground.first)) == teacher
    found: list[RoughDay] = []
    for d in range(len(question.teachers[teacher].days)):
        stops = tuple(places[one] for one in part.stops[teacher, d, : part.turns[teacher, d]])
        held = tuple(services[s] for s in np.flatnonzero(mine & (part.at == d).any(axis=1)))
        found.append(RoughDay(stops, held))
    return found


def rounds_for(effort: float, teachers: int, bundles: int) -> int:
    """Rounds of search that so many seconds of work allow, at least a few."""
    return max(20, int(effort / round_work(teachers, max(1, bundles))))


def round_work(teachers: int, bundles: int) -> float:
    """Seconds of work of one round of the search."""
    return ROUND + teachers * ROUND_A_TEACHER + bundles * ROUND_A_BUNDLE


def _rank(week: TimedWeek) -> tuple[int, int, int]:
    return week.figures.unplaced, week.figures.wishes, week.figures.driving


def _miles(question: Staffing, plan: Itinerary | None) -> int:
    if question.miles is None or plan is None:
        return 0
    legs = ((one.place, one.to_place) for day in plan.days for one in day.items)
    return sum(question.miles[a][b] for a, b in legs if a is not None and b is not None and a != b)
