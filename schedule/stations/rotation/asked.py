"""What a station rotation is asked: stations, students, adults, rounds and rules. Pure, immutable, no names.

Keys are the caller's; ``label`` is what kept sentences say (a student's marked code). Rounds count from 0.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

type Pair = frozenset[int]

OLD_DATA = 14
"""A goal that weighs so much, in days since its last data, comes early in the hour. Common practice, no source."""


class HelpBy(StrEnum):
    """What adults do who aren't one student's own: stand at a station, or go along with a student."""

    AT_STATIONS = "at_stations"
    WITH_STUDENTS = "with_students"


class RotationRule(StrEnum):
    """The rules of a rotation, each of which can be left out by itself."""

    GOALS = "goals"
    AT_A_TIME = "at_a_time"
    STAFF = "staff"
    ONE_TO_ONE = "one_to_one"
    ADULT_NEAR = "adult_near"
    APART = "apart"
    TOGETHER = "together"
    CAUTIONS = "cautions"
    WAITS = "waits"
    ONCE = "once"


ALL_RULES = frozenset(RotationRule)


@dataclass(frozen=True, slots=True)
class AskedStation:
    """A station: how many students at a time, and how many adults whenever a student is there."""

    key: int
    label: str
    at_a_time: int = 4
    staff: int = 0


@dataclass(frozen=True, slots=True)
class AskedStudent:
    """A student. ``wants``: stations that serve a goal, each with the days since its data.

    The days are what missing it weighs. ``barred``: stations that meet a caution about which nobody has said whom
    was asked. ``one_to_one``: an adult of the student's own stays along. ``adult_near``: an adult is at the
    student's station. ``away``: rounds in which the student isn't there.
    """

    key: int
    label: str
    wants: Mapping[int, int]
    barred: frozenset[int] = frozenset()
    one_to_one: bool = False
    adult_near: bool = False
    away: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class AskedAdult:
    """A teacher or an aide. ``own_student``: whose own the team agreed that the adult is.

    ``leads``: the station that the adult was told to take.
    """

    key: int
    label: str
    own_student: int | None = None
    leads: int | None = None


@dataclass(frozen=True, slots=True)
class RotationAsked:
    """One class hour's rotation. Stations stand around the space in their order, the last beside the first.

    ``waits_at_most``: rounds of a student without a station. ``done``: rounds that are over. Raises
    ``ValueError`` where keys don't fit each other.
    """

    stations: tuple[AskedStation, ...]
    students: tuple[AskedStudent, ...]
    adults: tuple[AskedAdult, ...]
    rounds: int
    help_by: HelpBy = HelpBy.AT_STATIONS
    apart: frozenset[Pair] = frozenset()
    together: frozenset[Pair] = frozenset()
    waits_at_most: int = 0
    done: int = 0
    rules: frozenset[RotationRule] = ALL_RULES

    def __post_init__(self) -> None:
        if self.rounds < 1 or self.waits_at_most < 0:
            raise ValueError("A rotation has at least one round, and nobody waits less than no round.")
        if any(len(pair) != 2 for pair in self.apart | self.together):
            raise ValueError("A rotation keeps two different students apart or together.")
        _keys_once("adult", (one.key for one in self.adults))
        stations = _keys_once("station", (one.key for one in self.stations))
        students = _keys_once("student", (one.key for one in self.students))
        if not self._stations_named() <= stations or not self._students_named() <= students:
            raise ValueError("A rotation names a station or a student that isn't in it.")

    def _stations_named(self) -> set[int]:
        named = {key for one in self.students for key in (*one.wants, *one.barred)}
        return named | {one.leads for one in self.adults if one.leads is not None}

    def _students_named(self) -> set[int]:
        named = {key for pair in self.apart | self.together for key in pair}
        return named | {one.own_student for one in self.adults if one.own_student is not None}

    @property
    def cells(self) -> tuple[tuple[int, int], ...]:
        """Each student with each round in which the student is there."""
        return tuple(
            (one.key, turn) for one in self.students for turn in range(self.rounds) if turn not in one.away
        )

    def station(self, key: int) -> AskedStation:
        """The station of a key; raises ``KeyError``."""
        return _found(self.stations, key)

    def student(self, key: int) -> AskedStudent:
        """The student of a key; raises ``KeyError``."""
        return _found(self.students, key)

    def adult(self, key: int) -> AskedAdult:
        """The adult of a key; raises ``KeyError``."""
        return _found(self.adults, key)

    def has(self, rule: RotationRule) -> bool:
        """Whether the rule holds here."""
        return rule in self.rules

    def walk(self, origin: int | None, target: int | None) -> int:
        """Places from one station to another, the shorter way around; to and from where one waits it is one."""
        if origin is None or target is None:
            return int(origin is not target)
        order = [one.key for one in self.stations]
        apart = abs(order.index(origin) - order.index(target))
        return min(apart, len(order) - apart)

    def with_help(self, help_by: HelpBy) -> "RotationAsked":
        """The same, with adults doing the other thing."""
        return replace(self, help_by=help_by)


def _found[K: (AskedStation, AskedStudent, AskedAdult)](rows: tuple[K, ...], key: int) -> K:
    for one in rows:
        if one.key == key:
            return one
    raise KeyError(key)


def _keys_once(kind: str, keys: Iterable[int]) -> set[int]:
    listed = list(keys)
    if len(set(listed)) != len(listed):
        raise ValueError(f"Two of a rotation's {kind}s have one key.")
    return set(listed)


@dataclass(frozen=True, slots=True)
class Post:
    """What an adult does all hour: stands at a station, goes with a student, or neither (helps where needed).

    ``one_to_one``: stays with that student only and counts for nobody else.
    """

    station: int | None = None
    student: int | None = None
    one_to_one: bool = False


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Who is where: each student's station in each round (None waits; no entry, isn't there), adults' posts."""

    at: Mapping[tuple[int, int], int | None]
    posts: Mapping[int, Post]


@dataclass(frozen=True, slots=True)
class RotationFigures:
    """What an arrangement gives. ``over``: rounds waited beyond what is allowed; ``missed``: goals without a turn.

    ``beside``: rounds in which two to be kept apart both wait; ``weight``: what the missed goals weigh; ``waits``
    in students' rounds; ``again``: visits beyond a student's first; ``walks`` in stations' places; ``late``: rounds
    until goals with old data come.
    """

    beside: int
    over: int
    missed: tuple[tuple[int, int], ...]
    weight: int
    waits: int
    again: int
    walks: int
    late: int


@dataclass(frozen=True, slots=True)
class RotationFound:
    """The best that was found. ``proved``: none is better in waiting, goals and changes; ``walks_proved``: nor
    in its walks among those that repeat as little. ``changes`` against what it had to stay like.
    """

    arrangement: Arrangement
    figures: RotationFigures
    proved: bool
    walks_proved: bool
    changes: int = 0
