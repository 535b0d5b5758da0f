"""One proposal after the other: searched for in the rough picture, priced by the planner, and searched again.

Where the exact week of a teacher doesn't place what the rough one did, some minutes of that teacher's days are left
over from then on, and the search goes on from where it was.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from schedule.planner.assign.answer import WORTHS, Favoring, Proposal, YearLoad
from schedule.planner.assign.bound import least_driving
from schedule.planner.assign.bundles import Bundle, bundles
from schedule.planner.assign.figures import broken_rules, cost_of, proposal_of, staffing_figures
from schedule.planner.assign.master import recombined
from schedule.planner.assign.mending import mended
from schedule.planner.assign.nearest import nearest_base
from schedule.planner.assign.pricing import Pricer, rough_days, round_work, rounds_for
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.rough.ground import ground_of
from schedule.planner.assign.rough.search import search
from schedule.planner.assign.rough.terrain import Ints, Rough, Terrain
from schedule.planner.result import Ended

TURNS = 5
"""How often the search goes on at most, with more minutes left over where the exact weeks needed them."""

FIRST_SHARE = 0.7
"""Of a proposal's effort, what its first search takes; the rest is for going on."""

MORE_SLACK = 6
"""Minutes a day left over more, for a teacher whose exact week didn't place everything."""

ALONE = 1_500
"""Rounds of search for the days of one teacher's week."""

USABLE = (0.9, 0.82, 0.75)
"""Shares of teachers' time with which the plain way is tried, too."""

AGAIN = 0.2
"""How warm each turn but the first begins."""

type Rank = tuple[int, int, float]
type Given = Mapping[str, str]
"""An assignment: teacher by service."""


@dataclass(slots=True)
class Finder:
    """Finds proposals of one question; what a teacher's week comes to is worked out once for all of them."""

    question: Staffing
    effort: float
    seed: int
    tell: Callable[[str], None]
    stop: Callable[[], bool]
    parts: tuple[Bundle, ...] = ()
    pricer: Pricer = field(init=False)
    driving: int = 0
    """Minutes driven in the best assignment so far, to know what an even share of the work is."""
    known: list[Mapping[str, str]] = field(default_factory=list)
    """Assignments found for what was favored before."""
    beside: list[Mapping[str, str]] = field(default_factory=list)
    """Assignments that were known beforehand."""

    def __post_init__(self) -> None:
        self.parts = bundles(self.question)
        self.pricer = Pricer(self.question, ALONE, self.seed)

    def know(self, proposal: Proposal) -> None:
        """Take its teachers' weeks as they are, and it itself where it breaks no rule of this question."""
        there = self.question.has_teacher
        self.pricer.known |= {
            (one.teacher, frozenset(one.services)): one for one in proposal.loads if there(one.teacher)
        }
        given = {service: who for service, who in proposal.assignment.items() if there(who)}
        if not broken_rules(self.question, self.parts, given):
            self.beside.append(given)

    def find(self, favoring: Favoring) -> Proposal:
        """The best proposal met for what is favored."""
        before = self.pricer.work
        best = min(self._tries(favoring), key=lambda one: self._rank(favoring, one))
        if favoring is not Favoring.NEAREST:
            self.tell("Putting the best parts together.")
            again = recombined(self.question, self.parts, self.pricer.known, WORTHS[favoring], self._work())
            best = min([best, *again], key=lambda one: self._rank(favoring, one))
        self.known.append(best)
        loads = self.pricer.loads(best)
        self.driving = min(self.driving or 10**9, sum(one.driving for one in loads))
        found = proposal_of(self.question, favoring, best, loads, seed=self.seed, work=self.pricer.work - before)
        return self.bounded(found) if favoring is Favoring.DRIVING else found

    def best_tried(
        self, favoring: Favoring, most: int, begun: Given | None = None, warm: float = 1.0
    ) -> list[Given]:
        """Up to so many different assignments of those that are tried, the best first.

        ``begun``: search from this one on, ``warm`` at first, and try nothing else, instead of from the plain one.
        """
        if begun is None:
            plain = [nearest_base(self.question, usable=share) for share in USABLE]
            tried: Iterable[Given] = [*plain, *self._tries(favoring)]
        else:
            tried = self._turns(favoring, begun, warm)
        different = {tuple(sorted(one.items())): one for one in tried}
        return sorted(different.values(), key=lambda one: self._rank(favoring, one))[:most]

    def best_of(self, favoring: Favoring, given: Iterable[Given]) -> Proposal:
        """The best of these and of what their teachers' parts and all others that are known can be put together to.

        Only of what is known already: nothing is searched for, and no bound is looked for.
        """
        known = list(given)
        again = recombined(self.question, self.parts, self.pricer.known, WORTHS[favoring], self._work())
        best = min([*known, *again], key=lambda one: self._rank(favoring, one))
        return proposal_of(self.question, favoring, best, self.pricer.loads(best), seed=self.seed)

    def bounded(self, found: Proposal) -> Proposal:
        """With what must be driven at least, where all is placed and no preparation missed."""
        if found.figures.unplaced or found.figures.short:
            return found
        bound = least_driving(self.question, self.parts, found.figures.driving)
        ended = Ended.PROOF if bound == found.figures.driving else found.ended
        return replace(found, bound=float(bound), ended=ended)

    def _work(self) -> float:
        """Minutes of all teachers' work together."""
        return float(sum(one.minutes for one in self.parts) + self.driving)

    def _tries(self, favoring: Favoring) -> list[Mapping[str, str]]:
        """Assignments to choose from, the plain one and what was found before first."""
        plain = nearest_base(self.question)
        if favoring is Favoring.NEAREST:
            return [plain]
        return [plain, *self.beside, *self.known, *self._turns(favoring, self.known[0] if self.known else plain)]

    def _turns(self, favoring: Favoring, begun: Given, warm: float = 1.0) -> Iterator[Given]:
        """What the search comes to, each time with more minutes left over where exact weeks were too full."""
        slack = dict.fromkeys((one.id for one in self.question.teachers), 0)
        owner = self._owners(begun)
        for turn in range(TURNS):
            if self.stop():
                return
            self.tell(f"Looking for a proposal ({favoring.value}), turn {turn + 1} of {TURNS}.")
            part, ground = self._searched(favoring, owner, slack, turn, warm if turn == 0 else AGAIN)
            loads = self._timed(ground, part)
            given = {service: one.teacher for one in loads for service in one.services}
            yield given
            yield mended(self.question, self.parts, self.pricer, given)
            owner = part.owner
            full = _too_full(loads)
            slack.update({one: slack[one] + MORE_SLACK for one in full})
            if not full:
                return

    def _searched(
        self, favoring: Favoring, owner: Ints, slack: dict[str, int], turn: int, warm: float
    ) -> tuple[Rough, Terrain]:
        share = FIRST_SHARE if turn == 0 else (1 - FIRST_SHARE) / (TURNS - 1)
        teachers = len(self.question.teachers)
        rounds = rounds_for(self.effort * share, teachers, len(self.parts))
        ground = ground_of(self.question, self.parts, WORTHS[favoring], slack)
        part = search(ground, owner, self._work(), rounds, self.seed + turn, warm)
        self.pricer.work += rounds * round_work(teachers, len(self.parts))
        return part, ground

    def _timed(self, ground: Terrain, part: Rough) -> tuple[YearLoad, ...]:
        """Every teacher's load, from the days that the search chose."""
        ids = [one.id for bundle in self.parts for one in bundle.services]
        owner = np.repeat(part.owner, np.diff(ground.first))
        found: list[YearLoad] = []
        for t, teacher in enumerate(self.question.teachers):
            mine = frozenset(ids[s] for s in np.flatnonzero(owner == t))
            days = rough_days(self.question, ground, part, t, ids)
            found.append(self.pricer.price(teacher.id, mine, days))
        return tuple(found)

    def _owners(self, assignment: Mapping[str, str]) -> Ints:
        number = {one.id: n for n, one in enumerate(self.question.teachers)}
        given = [assignment.get(part.services[0].id, "") for part in self.parts]
        return np.array([number.get(one, -1) for one in given], dtype=np.int64)

    def _rank(self, favoring: Favoring, assignment: Mapping[str, str]) -> Rank:
        """Unplaced minutes, then preparation missed, then what is favored."""
        loads = self.pricer.loads(assignment)
        figures = staffing_figures(self.question, self.parts, assignment, loads)
        return figures.unplaced, figures.short, cost_of(figures, loads, WORTHS[favoring])


def _too_full(loads: tuple[YearLoad, ...]) -> list[str]:
    """Teachers (ids) whose exact week leaves something out."""
    return [one.teacher for one in loads if one.unplaced or one.short]
