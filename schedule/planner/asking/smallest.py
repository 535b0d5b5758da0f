"""The smallest set of rules that clash, by hitting sets.

After A. Ignatiev, A. Previti, M. Liffiton and J. Marques-Silva (2015), "Smallest MUS extraction with minimal
hitting set dualization", CP 2015. Rules without which everything fits are a *correction set*: every clash holds one
of them. So a smallest set that has a rule of each correction set found so far is no larger than any clash; once it
clashes itself, it is a smallest one. Rules are numbers here; the oracle says whether some clash, all others lifted.
"""

from collections.abc import Callable, Iterable, Sequence

type Rules = frozenset[int]
type Oracle = Callable[[Rules], bool | None]
"""Whether these rules clash by themselves; ``None`` where that couldn't be found out."""


class UnknownError(Exception):
    """The oracle didn't know. Raised and caught in this module only."""


class Memory:
    """The oracle with all that follows from its answers: more rules clash too, fewer fit too."""

    def __init__(self, oracle: Oracle) -> None:
        self.oracle = oracle
        self.clashing: list[Rules] = []
        self.fitting: list[Rules] = []

    def clashes(self, rules: Rules) -> bool:
        """Whether the rules clash; raises ``UnknownError`` where that can't be found out."""
        if any(known <= rules for known in self.clashing):
            return True
        if any(rules <= known for known in self.fitting):
            return False
        answer = self.oracle(rules)
        if answer is None:
            raise UnknownError
        (self.clashing if answer else self.fitting).append(rules)
        return answer


def smallest_clash(count: int, oracle: Oracle, clash: Rules, fitting: Iterable[Rules] = ()) -> tuple[Rules, bool]:
    """A smallest clash among the rules 0 to ``count`` - 1, and whether that is proved.

    ``clash`` is one that is known and given back where the oracle fails, ``fitting`` are sets known not to clash.
    """
    everything = frozenset(range(count))
    memory = Memory(oracle)
    memory.clashing.append(clash)
    memory.fitting.extend(fitting)
    corrections = [everything - known for known in memory.fitting]
    try:
        while True:
            hitting = hitting_set(corrections)
            if len(hitting) >= len(clash):
                return clash, True
            if memory.clashes(hitting):
                return hitting, True
            grown = _grown(memory, hitting, sorted(everything - hitting))
            corrections.append(everything - grown)
    except UnknownError:
        return clash, False


def _grown(memory: Memory, kept: Rules, rest: Sequence[int]) -> Rules:
    """As many more rules as fit, sought by halves: what is left over is a small correction set."""
    more = kept | frozenset(rest)
    if not rest or not memory.clashes(more):
        return more
    if len(rest) == 1:
        return kept
    half = len(rest) // 2
    return _grown(memory, _grown(memory, kept, rest[:half]), rest[half:])


def hitting_set(sets: Sequence[Rules]) -> Rules:
    """A smallest set that shares a member with each of the sets, none of which is empty."""
    best: Rules = frozenset(min(one) for one in sets)
    waiting: list[Rules] = [frozenset()]
    while waiting:
        chosen = waiting.pop()
        missed = [one for one in sets if not one & chosen]
        if not missed:
            best = min(best, chosen, key=lambda one: (len(one), sorted(one)))
        elif len(chosen) + _disjoint(missed) <= len(best) - 1:
            fewest: Rules = min(missed, key=_size)
            waiting.extend(chosen | {member} for member in sorted(fewest, reverse=True))
    return best


def _disjoint(sets: Sequence[Rules]) -> int:
    """A number of sets of which no two share a member: as many members are needed at least."""
    used: set[int] = set()
    count = 0
    for one in sorted(sets, key=_size):
        if not one & used:
            used |= one
            count += 1
    return count


def _size(rules: Rules) -> int:
    return len(rules)
