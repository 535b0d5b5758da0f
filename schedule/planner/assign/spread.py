"""A search shared out in pieces that many workers do side by side, with the same answer however many there are.

Which pieces there are is known before anything is searched, and none depends on another of its round. Between two
rounds what they came to is put together in their order, never in the order in which they came in:

- *whose parts there are*: each teacher's week of an assignment that is known, such as today's;
- *the whole district*: one search for each proposal;
- *around each teacher*, twice: everything that this teacher and the nearest others have is searched anew, from the
  best so far on, with everybody else as they are (E. Taillard and S. Voss 2002);
- *each teacher alone*: who serves whom stays, and the week is searched for anew a few times.

Each piece has its seconds of work and no clock. A piece done twice comes to the same, so whoever lost one does it
again.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from schedule.planner.assign.answer import Favoring, Proposal, YearLoad
from schedule.planner.assign.figures import proposal_of
from schedule.planner.assign.finding import ALONE, Finder, Given
from schedule.planner.assign.pricing import WEEKS_TRIED, Pricer, rounds_for
from schedule.planner.assign.question import Itinerant, Staffing

ROUNDS_AROUND = 2
LAST = 2 + ROUNDS_AROUND
"""Round 0 counts what is known, round 1 searches the whole district, the last looks at each teacher alone."""

TIMES_ALONE = 4
"""How often a teacher's week is searched for anew in the last round."""

WHOLE = 0.6
"""Of a proposal's seconds of work, what the search of the whole district takes; the rounds around take the rest."""

WARM = (1.0, 0.3)
"""How warm the rounds around begin: at first as if nothing were known, then near what is good already."""

OTHERS = 3
"""How many teachers nearest to one are searched together with this one."""

MOST_TOLD = 4
"""Assignments that a piece tells, the best first."""

COUNTED = 1.0
"""Seconds of work for one teacher's week of an assignment that is known."""

type Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class WantedProposal:
    """A proposal to look for. ``effort``: seconds of work. ``beside``: what is known of the same teachers."""

    key: str
    question: Staffing
    favoring: Favoring
    effort: float
    seed: int = 0
    beside: tuple[Proposal, ...] = ()


@dataclass(frozen=True, slots=True)
class SearchPiece:
    """One piece of work: of which round and which proposal, around whom (empty: the whole district)."""

    round: int
    wanted: str
    teacher: str = ""

    @property
    def key(self) -> str:
        """Of its own among all pieces."""
        return f"{self.round}:{self.wanted}:{self.teacher}"


@dataclass(frozen=True, slots=True)
class PieceFound:
    """What a piece came to: assignments of what was searched, the best first, and every teacher's part in them."""

    given: tuple[Given, ...]
    loads: tuple[YearLoad, ...]
    work: float = 0.0


def pieces_counting(key: str, question: Staffing) -> tuple[SearchPiece, ...]:
    """One piece for each teacher of an assignment that is known."""
    return tuple(SearchPiece(0, key, one.id) for one in question.teachers)


def pieces_of(number: int, wanted: Iterable[WantedProposal]) -> tuple[SearchPiece, ...]:
    """All pieces of a round, in the order in which they are put together."""
    if number == 1:
        return tuple(SearchPiece(1, one.key) for one in wanted)
    return tuple(SearchPiece(number, one.key, who.id) for one in wanted for who in one.question.teachers)


# ---- the pieces -----------------------------------------------------------------------------------------------


def counted(question: Staffing, assignment: Given, teacher: str) -> PieceFound:
    """One teacher's week of an assignment that is known."""
    pricer = Pricer(question, rounds_for(COUNTED / WEEKS_TRIED, 1, len(assignment)))
    load = pricer.price(teacher, [one for one, who in assignment.items() if who == teacher])
    return PieceFound((), (load,), pricer.work)


def searched(
    wanted: WantedProposal, piece: SearchPiece, now: Proposal | None, stop: Stop = lambda: False
) -> PieceFound:
    """Do a piece of a search. ``now``: the best so far, where it is searched around a teacher."""
    if now is None:
        finder = _finder(wanted, wanted.question, wanted.effort * WHOLE, wanted.seed, stop)
        for one in wanted.beside:
            finder.know(one)
        return _told(finder, finder.best_tried(wanted.favoring, MOST_TOLD))
    if piece.round == LAST:
        return _alone(wanted, now.load(piece.teacher))
    number = [one.id for one in wanted.question.teachers].index(piece.teacher)
    effort = wanted.effort * (1 - WHOLE) / ROUNDS_AROUND / len(wanted.question.teachers)
    seed = wanted.seed + 1_000 * piece.round + 10 * number
    question, begun = around(wanted.question, now, piece.teacher)
    finder = _finder(wanted, question, effort, seed, stop)
    return _told(finder, finder.best_tried(wanted.favoring, MOST_TOLD, begun, WARM[piece.round - 2]))


def _alone(wanted: WantedProposal, load: YearLoad) -> PieceFound:
    """A teacher's week that is best of several."""
    pricers = [Pricer(wanted.question, ALONE, wanted.seed + 1 + n) for n in range(TIMES_ALONE)]
    best = min((one.price(load.teacher, load.services) for one in pricers), key=_rank)
    return PieceFound((), (best,), sum(one.work for one in pricers))


def _rank(load: YearLoad) -> tuple[int, int, int]:
    return load.unplaced, load.short, load.driving


def _finder(wanted: WantedProposal, question: Staffing, effort: float, seed: int, stop: Stop) -> Finder:
    return Finder(question, effort, seed, lambda message: None, stop)


def _told(finder: Finder, given: Sequence[Given]) -> PieceFound:
    loads = {(one.teacher, one.services): one for each in given for one in finder.pricer.loads(each)}
    return PieceFound(tuple(given), tuple(loads.values()), finder.pricer.work)


def around(question: Staffing, now: Proposal, teacher: str) -> tuple[Staffing, dict[str, str]]:
    """The question of a teacher and the nearest others, with what they have and what nobody has, and who has it."""
    near = {teacher, *_nearest(question, now, teacher)}
    begun = {service: who for service, who in now.assignment.items() if who in near}
    services = tuple(one for one in question.services if one.id in begun or one.id not in now.assignment)
    group = tuple(one for one in question.teachers if one.id in near)
    return replace(question, teachers=group, services=services), begun


def _nearest(question: Staffing, now: Proposal, teacher: str) -> list[str]:
    """Teachers of a field in common, those first whose buildings lie nearest to this one's, by their bases else."""
    me = question.teacher(teacher)
    others = [one for one in question.teachers if one is not me and one.fields & me.fields]

    def away(other: Itinerant) -> tuple[int, int]:
        ways = [_drive(question, a, b) for a in now.load(me.id).places for b in now.load(other.id).places]
        return sum(sorted(ways)[:OTHERS]), _drive(question, me.base, other.base)

    return [one.id for one in sorted(others, key=away)[:OTHERS]]


def _drive(question: Staffing, origin: str, to: str) -> int:
    return 0 if origin == to else question.drive_minutes[origin][to]


# ---- put together ---------------------------------------------------------------------------------------------


def counted_together(question: Staffing, assignment: Given, found: Iterable[PieceFound]) -> Proposal:
    """What an assignment comes to whose teachers' weeks were counted."""
    loads = {load.teacher: load for one in found for load in one.loads}
    ordered = tuple(loads[one.id] for one in question.teachers)
    return proposal_of(question, Favoring.BY_HAND, assignment, ordered)


def put_together(
    wanted: WantedProposal, whole: Iterable[Given], found: Iterable[PieceFound], *, is_last: bool
) -> Proposal:
    """The best of all pieces so far, in their order.

    ``whole``: assignments of the whole question whose teachers' parts are all in ``found`` or known ``beside``.
    ``is_last``: with what must be driven at least, where that is what is favored.
    """
    finder, work = _finder(wanted, wanted.question, 0.0, wanted.seed, lambda: False), 0.0
    for known in wanted.beside:
        finder.know(known)
    for one in found:
        work += one.work
        for load in one.loads:
            key = load.teacher, frozenset(load.services)
            finder.pricer.known[key] = min(finder.pricer.known.get(key, load), load, key=_rank)
    candidates = [*finder.beside, *whole]
    finder.driving = min(sum(load.driving for load in finder.pricer.loads(given)) for given in candidates)
    best = replace(finder.best_of(wanted.favoring, candidates), work=work)
    return finder.bounded(best) if is_last and wanted.favoring is Favoring.DRIVING else best


def merged(
    one: WantedProposal,
    wanted: Sequence[WantedProposal],
    every: Mapping[str, Sequence[PieceFound]],
    now: Mapping[str, Proposal],
    *,
    is_last: bool,
) -> Proposal:
    """A proposal after a round: of its own pieces, and of what was found for others of the same question.

    ``every``: what each proposal's pieces came to, by its key, that of the whole district first. ``now``: the
    proposals before this round.
    """
    alike = [other for other in wanted if other.question is one.question and other is not one]
    firsts = [every[other.key][0] for other in (one, *alike) if every[other.key]]
    whole = [given for each in firsts for given in each.given]
    before = [other.assignment for key, other in now.items() if key == one.key]
    return put_together(one, [*before, *whole], [*every[one.key], *firsts], is_last=is_last)
