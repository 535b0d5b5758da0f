"""The kinds of week of a term as arrays for the compiled search (``ruin``, ``anneal``), and back."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from schedule.planner.proving.labels import Ints
from schedule.planner.term.expected import days_coming
from schedule.planner.term.shared import WISH_MINUTE, AlikeWeeks, left_over_price
from schedule.planner.term.template.ruin import Board, HeldWeeks, measure
from schedule.planner.term.term import StandingSession
from schedule.planner.week.model import DayModel, Model, Node
from schedule.planner.week.state import WeekState

ROOM = 4
"""Visits that a day may hold beyond what its units could fill, for the compiled search's own use."""

MOST_VISITS = 40


@dataclass(slots=True)
class Numbers:
    """What the arrays number: services, units and candidates of the whole term."""

    services: dict[str, int]
    units: dict[str, int]
    members: list[tuple[str, ...]]
    candidates: dict[StandingSession, int]

    @classmethod
    def of(cls, kinds: Sequence[AlikeWeeks]) -> "Numbers":
        """In the order in which the kinds name them, candidates sorted."""
        services: dict[str, int] = {}
        members: dict[str, tuple[str, ...]] = {}
        for kind in kinds:
            problem = kind.model.problem
            for service in problem.services:
                services.setdefault(service.id, len(services))
            for unit in [*(one.id for one in problem.services), *(one.id for one in problem.groups)]:
                members.setdefault(unit, tuple(problem.members(unit)))
        units = {unit: number for number, unit in enumerate(members)}
        candidates = sorted({one for kind in kinds for one in kind.nodes})
        return cls(services, units, list(members.values()), {one: n for n, one in enumerate(candidates)})

    def services_of_units(self) -> list[list[int]]:
        """For each unit its members."""
        return [[self.services[one] for one in mine] for mine in self.members]

    def units_of_services(self) -> list[list[int]]:
        """For each service the units that it is a member of."""
        found: list[list[int]] = [[] for _ in self.services]
        for unit, mine in enumerate(self.members):
            for one in mine:
                found[self.services[one]].append(unit)
        return found

    def candidates_of_units(self) -> list[list[int]]:
        """For each unit its candidates."""
        found: list[list[int]] = [[] for _ in self.units]
        for session, number in self.candidates.items():
            found[self.units[session.unit]].append(number)
        return found


def _ints(values: object) -> Ints:
    return np.asarray(values, np.int64)


def _ragged(rows: Iterable[Sequence[int]]) -> tuple[Ints, Ints]:
    """Where each row begins (and the last ends), and all rows after each other."""
    kept = [list(row) for row in rows]
    return _ints([0, *accumulate(map(len, kept))]), _ints([one for row in kept for one in row])


class TermBoard:
    """Arrays of a term, and how its states are read into them and out again."""

    def __init__(self, kinds: Sequence[AlikeWeeks], slots: Sequence[StandingSession], worth: int) -> None:
        self.kinds = kinds
        self.numbers = Numbers.of(kinds)
        self.ordered = list(self.numbers.candidates)
        self.slots = [one for one in map(_bare, slots) if one in self.numbers.candidates]
        self.fixed = [one for one in map(_bare, slots) if one not in self.numbers.candidates]
        """What stands where no week could hold it by choice: it is pinned in each."""
        self.days = [day for kind in kinds for day in kind.model.days]
        self.first_day = [0, *accumulate(len(kind.model.days) for kind in kinds)]
        self.board = self._board([self.numbers.units[slot.unit] for slot in self.slots], worth)

    # ---- building ----------------------------------------------------------------------------------------

    def _board(self, slot_units: list[int], worth: int) -> Board:
        numbers = self.numbers
        member_from, members = _ragged(numbers.services_of_units())
        unit_from, units = _ragged(numbers.units_of_services())
        candidate_from, candidates = _ragged(numbers.candidates_of_units())
        node_from, node_day, node = self._nodes_of_candidates()
        loose_from, loose = _ragged(row for day in self.days for row in self._loose(day))
        places = sorted(set().union(*(kind.model.place_ids for kind in self.kinds)))
        return Board(
            kinds=_ints(list(map(self._kind_row, range(len(self.kinds))))),
            days=self._day_rows(),
            nodes=self._node_rows(places),
            leg=self._matrices(places, lambda model: model.leg),
            drive=self._matrices(places, lambda model: model.drive),
            owed=self._by_services(lambda model: model.owed),
            value=self._by_services(lambda model: model.value),
            apart=self._by_services(lambda model: model.days_apart),
            member_from=member_from,
            members=members,
            unit_from=unit_from,
            units=units,
            node_from=node_from,
            node_day=node_day,
            node=node,
            candidate_from=candidate_from,
            candidates=candidates,
            candidate_key=self._keys(places),
            comes=self._comes(),
            touching=self._touching(),
            loose_from=loose_from,
            loose=loose,
            slot_unit=_ints(slot_units),
            prices=_ints([worth, WISH_MINUTE, left_over_price(self.kinds, worth)]),
        )

    def _matrices(self, places: Sequence[str], of: Callable[[Model], Sequence[Sequence[int]]]) -> Ints:
        return _ints([_matrix(kind, places, of(kind.model)) for kind in self.kinds])

    def _by_services(self, of: Callable[[Model], Sequence[int]]) -> Ints:
        return _ints([self._by_service(kind, of(kind.model)) for kind in self.kinds])

    def _day_rows(self) -> Ints:
        rules: dict[str, int] = {}
        first_node = [0, *accumulate(len(day.nodes) for day in self.days)]
        return _ints([self._day_row(number, first, rules) for number, first in enumerate(first_node[:-1])])

    def _node_rows(self, places: Sequence[str]) -> Ints:
        looks: dict[tuple[int, int, int, bool], int] = {}
        return _ints([row for kind in self.kinds for row in self._nodes_of_kind(kind, places, looks)])

    def _by_service(self, kind: AlikeWeeks, values: Sequence[int]) -> list[int]:
        found = [0] * len(self.numbers.services)
        for service, value in zip(kind.model.problem.services, values, strict=True):
            found[self.numbers.services[service.id]] = value
        return found

    def _kind_row(self, number: int) -> tuple[int, ...]:
        kind, model = self.kinds[number], self.kinds[number].model
        first = self.first_day[number]
        limits = (model.setup, model.smallest_block, model.break_minutes, model.stretch, int(model.uses_wishes))
        return kind.count, first, len(model.days), *limits

    def _day_row(self, number: int, first: int, rules: dict[str, int]) -> tuple[int, ...]:
        day = self.days[number]
        kind = max(n for n, one in enumerate(self.first_day[:-1]) if one <= number)
        lunch = day.day.lunch
        window = (0, 0, 0) if lunch is None else (lunch.minutes, lunch.earliest, lunch.latest_end)
        model, ends = day.model, (day.nodes[0], day.nodes[-1])
        limits = (model.setup, model.smallest_block, model.break_minutes, model.stretch, repr(model.leg))
        told = (window, day.day.preparation_minutes, limits, repr(model.drive), model.place_ids, ends)
        rule = rules.setdefault(repr(told), len(rules) + 1)
        return first, len(day.nodes), kind, *window, day.day.preparation_minutes, rule

    def _nodes_of_kind(
        self, kind: AlikeWeeks, places: Sequence[str], looks: dict[tuple[int, int, int, bool], int]
    ) -> list[tuple[int, ...]]:
        found: list[tuple[int, ...]] = []
        known = {spot: self.numbers.candidates[one] for one, spots in kind.nodes.items() for spot in spots}
        for day in kind.model.days:
            for number, node in enumerate(day.nodes):
                where = len(places) if node.place < 0 else places.index(kind.model.place_ids[node.place])
                unit = -1 if node.unit is None else self.numbers.units[node.unit]
                candidate = known.get((day.index, number), -1)
                look = looks.setdefault((node.start, node.end, where, node.session), len(looks) + 1)
                spot = (node.start, node.end, where, int(node.session), unit, candidate, int(node.fixed), look)
                found.append(spot)
        return found

    def _loose(self, day: DayModel) -> list[list[int]]:
        """For each unit its nodes on a day."""
        found: list[list[int]] = [[] for _ in self.numbers.units]
        for number, node in enumerate(day.nodes):
            if node.unit is not None and not node.fixed:
                found[self.numbers.units[node.unit]].append(number)
        return found

    def _nodes_of_candidates(self) -> tuple[Ints, Ints, Ints]:
        """By kind and candidate, the ranges of their nodes: days of the whole term, and numbers in the day."""
        spots: list[tuple[int, int]] = []
        ranges: list[list[int]] = []
        for number, kind in enumerate(self.kinds):
            row = [len(spots)]
            for one in self.ordered:
                spots += [(self.first_day[number] + day, node) for day, node in kind.nodes.get(one, ())]
                row.append(len(spots))
            ranges.append(row)
        return _ints(ranges), _ints([day for day, _ in spots]), _ints([node for _, node in spots])

    def _keys(self, places: Sequence[str]) -> Ints:
        """Of each candidate its place, its kind of day and its minute."""
        keys = {key: n for n, key in enumerate(sorted({one.pattern_key for one in self.ordered}))}
        rows = [(places.index(one.place), keys[one.pattern_key], one.at) for one in self.ordered]
        return _ints(rows).reshape(len(rows), 3)

    def _comes(self) -> Ints:
        """By kind of week and candidate, whether its day comes in such a week."""
        coming = [days_coming(kind.week) for kind in self.kinds]
        return _ints([[(one.place, one.pattern_key) in mine for one in self.ordered] for mine in coming])

    def _touching(self) -> Ints:
        """Which kinds of day ever share a day."""
        names = sorted({one.pattern_key for one in self.ordered})
        keys = {key: n for n, key in enumerate(names)}
        found = np.zeros((len(names), len(names)), np.int64)
        for kind in self.kinds:
            days: list[set[int]] = [set() for _ in kind.model.days]
            for one, spots in kind.nodes.items():
                for day, _ in spots:
                    days[day].add(keys[one.pattern_key])
            for mine in days:
                found[np.ix_(sorted(mine), sorted(mine))] = 1
        return found

    # ---- states ------------------------------------------------------------------------------------------

    def read(self, full: Sequence[WeekState]) -> HeldWeeks:
        """The timetable, and the weeks made of it, as arrays."""
        days, services = len(self.days), len(self.numbers.services)
        most = max((len(visits) for one in full for visits in one.visits), default=0)
        weeks = HeldWeeks(
            visits=np.zeros((days, max(MOST_VISITS, most) + ROOM), np.int64),
            visited=np.zeros(days, np.int64),
            figures=np.zeros((days, 3), np.int64),
            missing=self.board.owed.copy(),
            held=np.zeros((days, services), np.int64),
            slots=_ints([self.numbers.candidates[one] for one in self.slots]),
            stands=np.zeros(len(self.ordered), np.int64),
            cost=np.zeros(len(self.kinds), np.int64),
        )
        weeks.stands[weeks.slots] = 1
        for number, one in enumerate(full):
            for index, visits in enumerate(one.visits):
                self._read_day(weeks, number, self.first_day[number] + index, visits)
        return weeks

    def _read_day(self, weeks: HeldWeeks, kind: int, day: int, visits: Sequence[int]) -> None:
        weeks.visits[day, : len(visits)] = visits
        weeks.visited[day] = len(visits)
        services = self.kinds[kind].model.problem.services
        for node in self._nodes(day, visits):
            for service in node.services:
                number = self.numbers.services[services[service].id]
                weeks.held[day, number] += 1
                weeks.missing[kind, number] -= 1
        measure(self.board, weeks, day)

    def _nodes(self, day: int, visits: Sequence[int]) -> list[Node]:
        return [self.days[day].nodes[n] for n in visits]

    def sessions(self, weeks: HeldWeeks) -> list[StandingSession]:
        """The sessions that stand, those that are pinned first."""
        return [*self.fixed, *(self.ordered[one] for one in weeks.slots.tolist() if one >= 0)]

    def visits(self, weeks: HeldWeeks, kind: int) -> Mapping[int, tuple[int, ...]]:
        """The visits of each day of a kind of week."""
        first, last = self.first_day[kind], self.first_day[kind + 1]
        return {day - first: tuple(weeks.visits[day, : weeks.visited[day]].tolist()) for day in range(first, last)}


def _bare(session: StandingSession) -> StandingSession:
    """Without its space: the search leaves spaces aside."""
    return StandingSession(session.unit, session.pattern_key, session.at, session.place)


def _matrix(kind: AlikeWeeks, places: Sequence[str], minutes: Sequence[Sequence[int]]) -> list[list[int]]:
    """Minutes between all places of the term, the open end last; places that a kind doesn't know are unused."""
    known = {place: number for number, place in enumerate(kind.model.place_ids)}
    ends = [known.get(place) for place in places] + [-1]
    return [[0 if a is None or b is None else minutes[a][b] for b in ends] for a in ends]
