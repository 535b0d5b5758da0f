"""Reads of the ways in which a timetable in force can be changed."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from caseload.plans.naming import StudentNames
from schedule.terms.changing import WAY_WORDS, Way
from schedule.terms.data import LaterView, MoveView, WayView
from schedule.terms.models import TermPlan
from schedule.terms.words import beside_words, day_of_key, later_words, when_words
from schedule.weeks.planning.sources import ask_office
from schedule.weeks.question_data import TellView
from travel.places.models import Building


def term_ways(term: TermPlan, kept: Iterable[Mapping[str, Any]], names: StudentNames) -> Iterator[WayView]:
    """The ways of a term, the one that it is planned by first."""
    ways = list(kept)
    buildings = _buildings(term, ways)
    fewest = next((_moved_driven(one) for one in ways if one["way"] == Way.FEWEST_MOVES), None)
    for one in ways:
        yield WayView(
            way=one["way"],
            label=WAY_WORDS[Way(one["way"])],
            moves=tuple(_move(move, buildings, names) for move in one["moves"]),
            drive_minutes=one["drive_minutes"],
            unplaced=one["unplaced"],
            proved=one["proved"],
            taken=one["way"] == term.way,
            tell=_whom_to_tell(one["moves"], buildings),
            left=one.get("moved", 0),
            fewest=one.get("fewest", 0),
            ended=one.get("ended", ""),
            beside="" if fewest is None else _beside(one, fewest),
            once=one.get("once", 0),
            since=dt.date.fromisoformat(one["since"]) if one.get("since") else None,
        )


def _beside(way: Mapping[str, Any], fewest: tuple[int, int]) -> str:
    """What a way costs and saves beside the fewest moves."""
    moved, driving = _moved_driven(way)
    if way.get("since"):
        return later_words(moved, fewest=fewest[0])
    return beside_words(moved, driving, fewest=fewest)


def _moved_driven(way: Mapping[str, Any]) -> tuple[int, int]:
    """Sessions that stood elsewhere before, and minutes at the wheel."""
    return sum(move["before"] is not None for move in way["moves"]), way["drive_minutes"]


def term_later(term: TermPlan, kept: Iterable[Mapping[str, Any]], names: StudentNames) -> Iterator[LaterView]:
    """What changes in a term's timetable within it, the earliest first."""
    changes = list(kept)
    buildings = _buildings(term, changes)
    for one in changes:
        yield LaterView(
            since=dt.date.fromisoformat(one["since"]),
            moves=tuple(_move(move, buildings, names) for move in one["moves"]),
            proved=one["proved"],
            tell=_whom_to_tell(one["moves"], buildings),
        )


def _buildings(term: TermPlan, changes: Iterable[Mapping[str, Any]]) -> dict[str, Building]:
    """The schools of all moves, by code."""
    codes = {spot[2] for one in changes for move in one["moves"] for spot in _spots(move)}
    rows = Building.objects.filter(district=term.district, code__in=codes)
    return {building.code: building for building in rows}


def _spots(move: Mapping[str, Any]) -> list[Sequence[Any]]:
    return [spot for spot in (move["before"], move["after"]) if spot is not None]


def _move(move: Mapping[str, Any], buildings: Mapping[str, Building], names: StudentNames) -> MoveView:
    before, after = _words(move["before"], buildings), _words(move["after"], buildings)
    if len({spot[2] for spot in _spots(move)}) < len(_spots(move)):
        after = _time(move["after"])  # The same school needs to be said once.
    return MoveView(names.told(move["who"]), before, after, dt.date.fromisoformat(move["begins"]))


def _words(spot: Sequence[Any] | None, buildings: Mapping[str, Building]) -> str:
    """When and where a session stands, such as ``Tuesdays 9:30, Larkmoor Elementary School``."""
    if spot is None:
        return ""
    building = buildings.get(spot[2])
    return f"{_time(spot)}, {building.name if building else spot[2]}"


def _time(spot: Sequence[Any]) -> str:
    return when_words(*day_of_key(spot[0]), spot[1])


def _whom_to_tell(moves: Iterable[Mapping[str, Any]], buildings: Mapping[str, Building]) -> tuple[TellView, ...]:
    """The office of each school that a session comes to or leaves; one that moves within a school counts once."""
    touched = Counter(place for move in moves for place in {spot[2] for spot in _spots(move)})
    rows = ((buildings[code], count) for code, count in touched.items() if code in buildings)
    told = sorted(rows, key=lambda pair: (pair[0].name, pair[0].pk))
    return tuple(TellView(building.code, ask_office(building), count) for building, count in told)
