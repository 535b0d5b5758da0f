"""Ids of the planner's units that mean the same in every week of a term. Pure.

A week names a unit by its service lines. A service whose terms change in the term has a line for each of its
versions; over the term all of them are one unit, named by the first version.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from schedule.planner.problem import Problem
from schedule.planner.result import DayPlan, Itinerary


@dataclass(frozen=True, slots=True)
class WeekIds:
    """What the units of one week are called in it and in its term; the rest have one name in both."""

    in_term: Mapping[str, str]

    @property
    def in_week(self) -> dict[str, str]:
        """The other way."""
        return {term: week for week, term in self.in_term.items()}

    def term_id(self, unit: str) -> str:
        """What a unit of the week is called in its term."""
        return self.in_term.get(unit, unit)


def week_ids(units: Mapping[str, str]) -> WeekIds:
    """Names of a week's units in its term, from the name that each would have.

    Of two units that would have one name, such as both versions of a service that changes within the week, only the
    first is renamed.
    """
    found: dict[str, str] = {}
    taken = {unit for unit, wanted in units.items() if unit == wanted}
    for unit, wanted in units.items():
        if unit != wanted and wanted not in taken:
            found[unit] = wanted
            taken.add(wanted)
    return WeekIds(found)


def unit_ids_of(problem: Problem) -> tuple[str, ...]:
    """The ids of a problem's services and groups."""
    return (*(one.id for one in problem.services), *(one.id for one in problem.groups))


def problem_in_term(problem: Problem, ids: WeekIds) -> Problem:
    """The week's problem with the names of its term; the week in force is left out, as a term doesn't read it."""
    name = ids.term_id
    return replace(
        problem,
        services=tuple(replace(one, id=name(one.id)) for one in problem.services),
        groups=tuple(
            replace(one, id=name(one.id), members=tuple(map(name, one.members))) for one in problem.groups
        ),
        pins=tuple(replace(one, unit=name(one.unit)) for one in problem.pins),
        current=None,
    )


def itinerary_in_week(plan: Itinerary, ids: WeekIds) -> Itinerary:
    """A plan made with the names of a term, with those of its week."""
    names = ids.in_week
    return Itinerary(
        tuple(
            DayPlan(
                day.day,
                tuple(replace(one, unit=names.get(one.unit, one.unit)) if one.unit else one for one in day.items),
            )
            for day in plan.days
        )
    )


def renamed_line(key: str, firsts: Mapping[int, int]) -> str:
    """What a week's unit of lines is called with the first versions of their services; other ids stay."""
    head, _, tail = key.partition("-")
    parts = tail.split("-")
    if head not in {"line", "group"} or not all(part.isdecimal() for part in parts):
        return key
    lines = sorted(_first_versions(parts, firsts))
    return "-".join([head, *map(str, lines)])


def _first_versions(parts: Iterable[str], firsts: Mapping[int, int]) -> set[int]:
    return {firsts.get(int(part), int(part)) for part in parts}
