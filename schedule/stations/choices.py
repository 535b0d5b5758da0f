"""What a teacher says about today's stations before the search: as the page and the API send it. Pure.

``stations`` in the order in which they stand around the space. Adults and students who aren't named are there and
need nothing. Rounds count from 1 here, as people count them.
"""

from collections.abc import Collection, Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any

from schedule.stations.rotation.asked import HelpBy

TEACHER = 0
"""The key of the teacher among the adults; aides have their contact's id, others a negative number."""


@dataclass(frozen=True, slots=True)
class AdultChoice:
    """An adult this morning. ``leads`` is a station, ``own_student`` the student with whom the adult stays.

    Neither: helps where needed. The teacher walks around, and isn't counted, unless told otherwise (``counts``).
    """

    key: int
    name: str
    here: bool = True
    counts: bool = True
    own_student: int | None = None
    leads: int | None = None


@dataclass(frozen=True, slots=True)
class StudentChoice:
    """A student this morning. ``from_round``: the first round in which the student is there."""

    student: int
    here: bool = True
    from_round: int = 1
    adult_near: bool = False


@dataclass(frozen=True, slots=True)
class AskedAbout:
    """Somebody was asked, and this student may come to this station today."""

    student: int
    station: int


@dataclass(frozen=True, slots=True)
class RotationChoices:
    """All that is said. ``done``: rounds that are over already. ``once``: nobody comes twice to a station.

    ``begins``: minutes of the session before the first round.
    """

    stations: tuple[int, ...]
    rounds: int = 4
    minutes: int = 4
    begins: int = 0
    help_by: HelpBy = HelpBy.AT_STATIONS
    waits_at_most: int = 0
    once: bool = False
    done: int = 0
    adults: tuple[AdultChoice, ...] = ()
    students: tuple[StudentChoice, ...] = ()
    asked: tuple[AskedAbout, ...] = ()

    def student(self, key: int) -> StudentChoice:
        """What is said of a student."""
        return next((one for one in self.students if one.student == key), StudentChoice(key))

    def without(self, students: Collection[int]) -> "RotationChoices":
        """The same with these students not here."""
        others = tuple(one for one in self.students if one.student not in students)
        gone = tuple(replace(self.student(key), here=False) for key in sorted(students))
        return replace(self, students=(*others, *gone))

    def adult(self, key: int) -> AdultChoice | None:
        """What is said of an adult; None where nothing is."""
        return next((one for one in self.adults if one.key == key), None)


def choices_json(choices: RotationChoices) -> dict[str, Any]:
    """As JSON keeps it."""
    return asdict(choices)


def choices_read(kept: dict[str, Any]) -> RotationChoices:
    """What was kept."""
    rows = {
        "stations": tuple(kept["stations"]),
        "help_by": HelpBy(kept["help_by"]),
        "adults": _rows(AdultChoice, kept["adults"]),
        "students": _rows(StudentChoice, kept["students"]),
        "asked": _rows(AskedAbout, kept["asked"]),
    }
    return RotationChoices(**{**kept, **rows})


def _rows[C: (AdultChoice, StudentChoice, AskedAbout)](
    kind: type[C], kept: Iterable[dict[str, Any]]
) -> tuple[C, ...]:
    return tuple(kind(**one) for one in kept)


def choices_problem(choices: RotationChoices, minutes: int) -> dict[str, str]:
    """What can't be so, by field, with the remedy; empty where all can. ``minutes`` are the class's."""
    found: dict[str, str] = {}
    if not choices.stations:
        found["stations"] = "Choose at least one station."
    if len(set(choices.stations)) != len(choices.stations):
        found["stations"] = "A station stands in one place: choose each once."
    if choices.begins >= minutes:
        found["begins"] = f"The class has {minutes} minutes: the first round begins before they are over."
    elif choices.rounds * choices.minutes > minutes - choices.begins:
        fit = (minutes - choices.begins) // max(1, choices.minutes)
        left = f"{minutes - choices.begins} of {minutes} left by then" if choices.begins else f"{minutes}"
        found["rounds"] = (
            f"{choices.rounds} rounds of {choices.minutes} minutes are {choices.rounds * choices.minutes} minutes, "
            f"and the class has {left}: at most {fit} rounds fit."
        )
    if choices.done > choices.rounds:
        found["done"] = f"There are only {choices.rounds} rounds."
    return {**found, **_leaders(choices)}


def _leaders(choices: RotationChoices) -> dict[str, str]:
    gone = [one.name for one in choices.adults if one.here and one.leads not in {None, *choices.stations}]
    return {"adults": f"{' and '.join(gone)}: the station isn't among today's."} if gone else {}
