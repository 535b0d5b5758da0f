"""The planner's question as plain values that a JSON column can hold, and back. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from schedule.assigning.asking import BaseFacts
from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.days import Block, Day, Lunch, Place
from schedule.planner.problem import Start


def question_kept(question: Staffing) -> dict[str, Any]:
    """Plain values only: ids, codes and minutes."""
    return {
        "teachers": [_teacher_kept(one) for one in question.teachers],
        "sites": [asdict(one) for one in question.sites],
        "services": [_service_kept(one) for one in question.services],
        "drive_minutes": question.drive_minutes,
        "bases": [asdict(one) for one in question.bases],
        "miles": question.miles,
    }


def _teacher_kept(one: Itinerant) -> dict[str, Any]:
    return {
        **asdict(one),
        "fields": sorted(one.fields),
        "not_places": sorted(one.not_places),
        "not_services": sorted(one.not_services),
        "keeps": sorted(one.keeps),
    }


def _service_kept(one: YearService) -> dict[str, Any]:
    starts = [[each.day, each.at, each.place, each.space, each.pattern_key, each.minutes] for each in one.starts]
    return {**asdict(replace(one, starts=())), "starts": starts}


def question_read(kept: Mapping[str, Any]) -> Staffing:
    """The same question. Raises ``KeyError`` or ``ProblemError`` for what ``question_kept`` didn't make."""
    return Staffing(
        teachers=tuple(_teacher(one) for one in kept["teachers"]),
        sites=tuple(
            Site(**{**one, "place": Place(**one["place"]), "bells": tuple(one["bells"])}) for one in kept["sites"]
        ),
        services=tuple(_service(one) for one in kept["services"]),
        drive_minutes=kept["drive_minutes"],
        bases=tuple(Place(**one) for one in kept["bases"]),
        miles=kept["miles"],
    )


def _teacher(one: Mapping[str, Any]) -> Itinerant:
    sets = {name: frozenset(one[name]) for name in ("fields", "not_places", "not_services", "keeps")}
    return Itinerant(**{**one, **sets, "days": tuple(_day(day) for day in one["days"])})


def _day(one: Mapping[str, Any]) -> Day:
    lunch = Lunch(**one["lunch"]) if one["lunch"] is not None else None
    return Day(**{**one, "lunch": lunch, "blocks": tuple(Block(**block) for block in one["blocks"])})


def _service(one: Mapping[str, Any]) -> YearService:
    starts = tuple(Start(*each) for each in one["starts"])
    return YearService(**{**one, "students": tuple(one["students"]), "starts": starts})


def riders_kept(riders: Mapping[str, Sequence[BaseFacts]]) -> dict[str, list[dict[str, str]]]:
    """Students without minutes, by their teacher."""
    return {teacher: [asdict(one) for one in several] for teacher, several in riders.items()}


def riders_read(kept: Mapping[str, Sequence[Mapping[str, str]]]) -> dict[str, tuple[BaseFacts, ...]]:
    """The same back."""
    return {teacher: tuple(BaseFacts(**one) for one in several) for teacher, several in kept.items()}
