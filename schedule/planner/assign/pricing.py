"""What a teacher with a set of services comes to: a week of the planner's own, not a sum of minutes.

Days with their drives, lunch, preparation, blocks and the buildings' bells are the planner's (``solve``), and so
is the proof of what the least driving is. Where spaces and classes' periods aren't known before the year, they
are left out: the real week is no easier than this one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from schedule.planner.assign.answer import YearLoad
from schedule.planner.assign.question import Itinerant, Staffing, YearService
from schedule.planner.problem import DRIVING_FIRST, Goal, Problem, Service, Start
from schedule.planner.result import Itinerary, Status
from schedule.planner.solve import solve

GOALS = tuple(goal for goal in DRIVING_FIRST if goal in {Goal.UNPLACED, Goal.WISHES, Goal.DRIVING})


def week_of(question: Staffing, teacher: Itinerant, services: Iterable[YearService]) -> Problem:
    """The planner's question for a teacher with these services."""
    given = tuple(services)
    used = {one.place for one in given} | {teacher.base}
    for day in teacher.days:
        used |= {place for place in (day.start_place, day.end_place) if place is not None}
        used |= {block.place for block in day.blocks if block.place is not None}
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
    """Prices teachers with sets of services, each set once. ``effort``: seconds of work for one week.

    ``work`` counts what all weeks took. No clock ends a week: the same seed and effort give the same price
    anywhere.
    """

    question: Staffing
    effort: float
    seed: int = 0
    work: float = 0.0
    known: dict[tuple[str, frozenset[str]], YearLoad] = field(default_factory=dict)

    def price(self, teacher_id: str, service_ids: Iterable[str]) -> YearLoad:
        """That teacher's load with these services."""
        wanted = frozenset(service_ids)
        if (teacher_id, wanted) not in self.known:
            given = tuple(one for one in self.question.services if one.id in wanted)
            self.known[teacher_id, wanted] = self._priced(self.question.teacher(teacher_id), given)
        return self.known[teacher_id, wanted]

    def loads(self, assignment: Mapping[str, str]) -> tuple[YearLoad, ...]:
        """Every teacher's load, in the question's order."""
        given: dict[str, list[str]] = {one.id: [] for one in self.question.teachers}
        for service, teacher in assignment.items():
            given[teacher].append(service)
        return tuple(self.price(one.id, given[one.id]) for one in self.question.teachers)

    def _priced(self, teacher: Itinerant, given: tuple[YearService, ...]) -> YearLoad:
        problem = week_of(self.question, teacher, given)
        result = solve(
            problem, seed=self.seed, effort=self.effort, time_limit=1e9, workers=1, monotonic=lambda: 0.0
        )
        self.work += result.work
        owed = sum(one.week_minutes for one in given)
        stages = {one.goal: one for one in result.stages}
        unplaced = owed if result.figures is None else result.figures.unplaced
        before = [stages[goal].status for goal in (Goal.UNPLACED, Goal.WISHES) if goal in stages]
        is_true = all(one is Status.OPTIMAL for one in before) and Goal.DRIVING in stages
        return YearLoad(
            teacher=teacher.id,
            services=tuple(one.id for one in given),
            students=tuple(dict.fromkeys(student for one in given for student in one.students)),
            places=tuple(dict.fromkeys(one.place for one in given)),
            owed=owed,
            placed=owed - unplaced,
            unplaced=unplaced,
            driving=0 if result.figures is None else result.figures.driving,
            least_driving=stages[Goal.DRIVING].bound if is_true else 0,
            short=0 if result.figures is None else result.figures.wishes,
            miles=_miles(self.question, result.plan),
            contract=teacher.contract_minutes,
            plan=result.plan,
        )


def _miles(question: Staffing, plan: Itinerary | None) -> int:
    if question.miles is None or plan is None:
        return 0
    legs = ((one.place, one.to_place) for day in plan.days for one in day.items)
    return sum(question.miles[a][b] for a, b in legs if a is not None and b is not None and a != b)
