"""What is alike in the weeks of a term: those that ask the same but for their dates are planned once."""

from dataclasses import replace

from schedule.planner.problem import Barred, Group, Problem, Service, Session, Start, Window
from schedule.planner.result import DayPlan, Itinerary


def units_of(problem: Problem) -> list[Service | Group]:
    """Services, then groups."""
    return [*problem.services, *problem.groups]


def kind_of_week(problem: Problem, *, with_pattern: bool) -> Problem:
    """The problem with days by number and without what only a reader sees: equal for weeks that are alike.

    ``with_pattern``: also by the kinds of their days, which matter where a timetable is to be kept.
    """
    number = {day.id: str(index) for index, day in enumerate(problem.days)}

    def undated[T: (Start, Window, Session)](one: T) -> T:
        return replace(one, day=number.get(one.day, ""))

    def start(one: Start) -> Start:
        return undated(one) if with_pattern else replace(undated(one), pattern_key=None)

    def window(one: Window) -> Window:
        return undated(one) if with_pattern else replace(undated(one), pattern_key=None)

    barred: tuple[Barred, ...] = ()
    return replace(
        problem,
        days=tuple(replace(day, id=number[day.id], label="") for day in problem.days),
        services=tuple(
            replace(
                one,
                starts=tuple(map(start, one.starts)),
                windows=tuple(map(window, one.windows)),
                barred=barred,
                usual=one.usual if with_pattern else (),
            )
            for one in problem.services
        ),
        groups=tuple(
            replace(one, starts=tuple(map(start, one.starts)), windows=tuple(map(window, one.windows)))
            for one in problem.groups
        ),
        pins=tuple(replace(pin, day=number[pin.day]) for pin in problem.pins),
        current=tuple(map(undated, problem.current or ())) if with_pattern else None,
        title="",
    )


def on_days_of(plan: Itinerary, problem: Problem) -> Itinerary:
    """The plan of a week that is alike, on this week's days."""
    return Itinerary(tuple(DayPlan(day.id, one.items) for day, one in zip(problem.days, plan.days, strict=True)))
