"""How students are called: told apart from each other, and put into sentences that were made without names. Pure.

Whatever is made before it is known who will read it (what the planner says of a week, what a change did, why
something has no place) names a student by the code, between two marks: Unicode's first strong isolate and pop
directional isolate, which set off an inserted word and are not seen. `StudentNames.told` puts the reader's words in
their place. An unknown code stays a code.
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

OPENS, CLOSES = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"
# Of names with fewer letters most hits are other words.
SHORTEST = 3
_WORD = re.compile(r"[^\W\d_]+(?:['\u2019-][^\W\d_]+)*")
_MARKED = re.compile(f"{OPENS}([^{OPENS}{CLOSES}]*){CLOSES}")


def marked(code: str) -> str:
    """A student's code as sentences that are kept carry it."""
    return f"{OPENS}{code}{CLOSES}"


def unmarked(text: str) -> str:
    """A sentence with plain codes: for a terminal, a file or a log."""
    return text.replace(OPENS, "").replace(CLOSES, "")


def words_of(name: str) -> frozenset[str]:
    """The words of a name by which it would be known in a text."""
    return frozenset(word for word in _WORD.findall(name) if len(word) >= SHORTEST)


def names_in(text: str, names: Collection[str]) -> tuple[str, ...]:
    """Those of the names that stand in a text as words of their own, possessives included, each once."""
    words = (word.removesuffix("'s").removesuffix("\u2019s") for word in _WORD.findall(text))
    return tuple(dict.fromkeys(word for word in words if word in names))


@dataclass(frozen=True, slots=True)
class NameCard:
    """What a student can be called by. ``grade`` in words, such as ``grade 3``."""

    student: int
    code: str
    first: str
    last: str
    grade: str
    school: str

    @property
    def full(self) -> str:
        """First and last name."""
        return f"{self.first} {self.last}".strip()


type Words = Callable[[NameCard], str]

FULL: tuple[Words, ...] = (
    lambda one: one.full,
    lambda one: f"{one.full} ({one.grade})",
    lambda one: f"{one.full} ({one.grade}, {one.school})",
    lambda one: f"{one.full} ({one.grade}, {one.code})",
)
LISTED: tuple[Words, ...] = (
    lambda one: f"{one.last}, {one.first}",
    lambda one: f"{one.last}, {one.first} ({one.grade})",
    lambda one: f"{one.last}, {one.first} ({one.grade}, {one.school})",
    lambda one: f"{one.last}, {one.first} ({one.grade}, {one.code})",
)
SHORT: tuple[Words, ...] = (
    lambda one: one.first,
    lambda one: f"{one.first} {one.last[:1]}.",
    *FULL,
)
INITIALS: tuple[Words, ...] = (
    lambda one: "".join(f"{name[0]}." for name in (one.first, one.last) if name),
    lambda one: "".join(f"{name}." for name in (one.first[:1], one.last[:2]) if name),
    lambda one: f"{one.first[:1]}.{one.last[:1]}. {one.code}",
)
"""For where no name may stand: whom initials don't tell apart is told apart by the code."""

TIGHT: tuple[Words, ...] = (
    lambda one: f"{one.first[:1]}{one.last[:1]}",
    lambda one: f"{one.first[:1]}{one.last[:2]}",
    *SHORT,
)
"""For a drawing with little room, whose reader may see the names: initials without points, else more."""


def told_apart(cards: Iterable[NameCard], ways: Sequence[Words]) -> dict[int, str]:
    """By student: the first of ``ways`` that calls nobody else here the same; the last one for whom none does."""
    cards = list(cards)
    found: dict[int, str] = {}
    for way in ways:
        said = [way(one) for one in cards]
        count = Counter(words.casefold() for words in said)
        for one, words in zip(cards, said, strict=True):
            if one.student not in found and count[words.casefold()] == 1:
                found[one.student] = words
        if len(found) == len(cards):
            break
    return {one.student: found.get(one.student) or ways[-1](one) for one in cards}


class WordsMadeLate[Key](Mapping[Key, str]):
    """Words that are made when one of them is asked for: a page shows students in one or two of the ways."""

    def __init__(self, make: Callable[[], Mapping[Key, str]]) -> None:
        self._make = make

    @cached_property
    def _words(self) -> Mapping[Key, str]:
        return self._make()

    def __getitem__(self, key: Key) -> str:
        return self._words[key]

    def __iter__(self) -> Iterator[Key]:
        return iter(self._words)

    def __len__(self) -> int:
        return len(self._words)


@dataclass(frozen=True, slots=True)
class StudentNames:
    """How students are called for one reader: those on the cards by name, all others by nothing but their code."""

    full: Mapping[int, str] = field(default_factory=dict)
    listed: Mapping[int, str] = field(default_factory=dict)
    short: Mapping[int, str] = field(default_factory=dict)
    tight: Mapping[int, str] = field(default_factory=dict)
    initials: Mapping[int, str] = field(default_factory=dict)
    by_code: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, cards: Iterable[NameCard], among: Iterable[int] | None = None) -> "StudentNames":
        """Names for these students. Short ones only have to differ ``among`` those shown together, if given."""
        cards = list(cards)
        wanted = None if among is None else set(among)
        together = [one for one in cards if wanted is None or one.student in wanted]
        full = WordsMadeLate(lambda: told_apart(cards, FULL))
        return cls(
            full=full,
            listed=WordsMadeLate(lambda: told_apart(cards, LISTED)),
            short=WordsMadeLate(lambda: told_apart(together, SHORT)),
            tight=WordsMadeLate(lambda: told_apart(together, TIGHT)),
            initials=WordsMadeLate(lambda: told_apart(together, INITIALS)),
            by_code=WordsMadeLate(lambda: {one.code: full[one.student] for one in cards}),
        )

    @classmethod
    def by_initials(cls, cards: Iterable[NameCard]) -> "StudentNames":
        """Initials wherever a name would stand, each told apart from everybody on the cards."""
        cards = list(cards)
        words = told_apart(cards, INITIALS)
        return cls(words, words, words, words, words, {one.code: words[one.student] for one in cards})

    def told(self, text: str) -> str:
        """A sentence with its marked codes as this reader's words."""
        return _MARKED.sub(lambda found: self.by_code.get(found[1], found[1]), text)

    def all_told(self, texts: Iterable[str]) -> tuple[str, ...]:
        """The same for several sentences."""
        return tuple(self.told(text) for text in texts)


CODES_ONLY = StudentNames()
"""For whom nobody is named: a terminal, a log."""
