"""Which visit can follow which on a day, and which of those steps a route needs."""

from dataclasses import dataclass

from schedule.planner.week.model import DayModel

type Arc = tuple[int, int, int, int, int, int]
"""From, to, with lunch, drive, preparation, rest."""


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps between some of a day's nodes, which are numbered by their place in ``nodes``."""

    day: DayModel
    nodes: list[int]

    def _slots_before(self) -> tuple[list[int], list[int]]:
        """For each usable node, required visits over by its start, and by its end (itself included)."""
        nodes = self.day.nodes
        slots = [nodes[n] for n in self.day.required]
        slots += [nodes[copies[0]] for copies in self.day.placeless if copies]
        by_start = [sum(slot.end <= nodes[n].start for slot in slots) for n in self.nodes]
        by_end = [sum(slot.end <= nodes[n].end for slot in slots) for n in self.nodes]
        return by_start, by_end

    def rows(self, *, every_start: bool) -> list[Arc]:
        """Rows of (from, to, with lunch, drive, preparation, rest), in order of from."""
        by_start, by_end = self._slots_before()
        rows: list[Arc] = []
        for i in range(len(self.nodes) - 1):
            free = [j for j in range(i + 1, len(self.nodes)) if by_start[j] == by_end[i]]
            plain, lunch = self._reachable(i, free)
            if not every_start:
                soonest = self._worth_waiting if self.day.model.uses_wishes else self._earliest
                plain, lunch = soonest(i, plain, False), soonest(i, lunch, True)
            rows.extend(self._row(i, j, False) for j in plain)
            rows.extend(self._row(i, j, True) for j in lunch)
        return rows

    def _reachable(self, i: int, free: list[int]) -> tuple[list[int], list[int]]:
        plain: list[int] = []
        lunch: list[int] = []
        end = self.day.nodes[self.nodes[i]].end
        for j in free:
            if self.day.nodes[self.nodes[j]].start < end:
                continue
            gap = self.day.gap(self.nodes[i], self.nodes[j])
            if gap is not None:
                plain.append(j)
                if gap.lunch_fits:
                    lunch.append(j)
        return plain, lunch

    def _earliest(self, i: int, reached: list[int], _with_lunch: bool) -> list[int]:
        """Only the earliest starts of each unit and place: a later one leaves no more (without wishes)."""
        nodes = self.day.nodes
        soonest: dict[tuple[str, int], int] = {}
        chosen: list[int] = []
        for j in reached:
            node = nodes[self.nodes[j]]
            key = (node.unit or f"block {j}", node.place)
            if key not in soonest or node.end < soonest[key]:
                soonest[key] = node.end
                chosen.append(j)
        return chosen

    def _worth_waiting(self, i: int, reached: list[int], with_lunch: bool) -> list[int]:
        """The starts of each unit, place and length that wishes can make worth waiting for.

        Waiting after the session is as good as before it once the gap before it holds a break, loses no minute of
        preparation, and the wait itself is long enough to count as preparation.
        """
        nodes = self.day.nodes
        enough: dict[tuple[str, int, int], int] = {}
        chosen: list[int] = []
        for j in reached:
            node = nodes[self.nodes[j]]
            key = (node.unit or f"block {j}", node.place, node.end - node.start)
            if key in enough and node.start - enough[key] >= self.day.model.smallest_block:
                continue
            chosen.append(j)
            if key not in enough and self._loses_nothing(i, j, with_lunch):
                enough[key] = node.start
        return chosen

    def _loses_nothing(self, i: int, j: int, with_lunch: bool) -> bool:
        gap = self.day.gap(self.nodes[i], self.nodes[j])
        if gap is None:
            return False
        if with_lunch:
            return gap.lunch_preparation == self.day.spare_with_lunch(self.nodes[i], self.nodes[j])
        return gap.preparation > 0 and gap.rest

    def _row(self, i: int, j: int, with_lunch: bool) -> Arc:
        gap = self.day.gap(self.nodes[i], self.nodes[j])
        if gap is None:
            raise ValueError("An arc was asked for between visits that can't follow each other.")
        prepared = gap.lunch_preparation if with_lunch else gap.preparation
        return (i, j, int(with_lunch), gap.drive, prepared, int(gap.rest))
