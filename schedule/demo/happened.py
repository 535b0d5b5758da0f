"""What happened to the demo's sessions: the same on every machine, for any day on which the demo is loaded.

Invented, as is the county. Most sessions go as planned; some days have a story, and some students are missing more
often than others. Who is missing on which day follows from a checksum, so it looks like chance and never changes.
"""

import datetime as dt
import zlib
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mishap:
    """Why sessions of some days were missed, or given by somebody else.

    `buildings` and `students` are codes; without any it is everybody's. `minutes` are those that were given all the
    same. Without a `reason` nothing was missed.
    """

    first: dt.date
    days: int = 1
    reason: str = ""
    note: str = ""
    buildings: frozenset[str] = frozenset()
    students: frozenset[str] = frozenset()
    minutes: int = 0
    given_by: str = ""

    def is_of(self, date: dt.date, building: str, student: str) -> bool:
        """Whether it happened to this student's session there that day."""
        here = not self.buildings or building in self.buildings
        last = self.first + dt.timedelta(days=self.days - 1)
        return self.first <= date <= last and here and (not self.students or student in self.students)


def _on(month: int, day: int) -> dt.date:
    """A day of the invented school year."""
    return dt.date(2026 if month >= 8 else 2027, month, day)


STORY = (
    Mishap(_on(9, 25), reason="assembly", note="Pep rally in the gym.", buildings=frozenset({"BRACK"})),
    Mishap(_on(10, 1), 2, reason="teacher_absent", note="Ill; no substitute could be found."),
    Mishap(_on(10, 6), reason="assembly", note="Picture day.", buildings=frozenset({"LARK"})),
    Mishap(
        _on(10, 14), 10, reason="medical", note="Recovering after a stay in hospital.", students=frozenset({"S05"})
    ),
    Mishap(_on(10, 20), 2, reason="testing", buildings=frozenset({"OSTER"})),
    Mishap(_on(10, 28), reason="no_space", note="Book fair in the gym.", buildings=frozenset({"TANSY"})),
    Mishap(_on(10, 29), given_by="Anselm Roke"),
    Mishap(_on(11, 5), reason="assembly", note="Trip to the nature center.", buildings=frozenset({"QUILL"})),
    Mishap(_on(11, 17), reason="no_aide", buildings=frozenset({"FENN"}), minutes=15),
    Mishap(_on(12, 17), reason="assembly", note="Winter concert.", buildings=frozenset({"FENN", "CRAG"})),
    Mishap(_on(1, 20), 2, reason="teacher_absent", note="Ill."),
    Mishap(_on(2, 3), reason="testing", buildings=frozenset({"BRACK"})),
    Mishap(_on(3, 3), reason="no_space", note="Science fair.", buildings=frozenset({"LARK", "TANSY"})),
    Mishap(_on(4, 27), 2, reason="testing", buildings=frozenset({"OSTER", "BRACK"})),
    Mishap(_on(5, 20), reason="assembly", note="Spring concert.", buildings=frozenset({"OSTER"})),
)


@dataclass(frozen=True, slots=True)
class Habit:
    """How often in a hundred sessions a student misses one, and why."""

    percent: int
    reason: str
    note: str = ""
    minutes: int = 0


USUAL = Habit(4, "student_absent")
HABITS: Mapping[str, Habit] = {
    "S03": Habit(9, "student_absent"),
    "S14": Habit(8, "behaviour", "Left early with the aide, as the behavior plan says.", 10),
    "S19": Habit(14, "student_absent"),
    "S23": Habit(12, "transport", "The bus came late.", 10),
    "S26": Habit(18, "declined", "Asked twice; stayed with the class."),
}


@dataclass(frozen=True, slots=True)
class Happened:
    """What the log says of one student in one session; without a reason all minutes were given."""

    reason: str = ""
    note: str = ""
    minutes: int | None = None
    given_by: str = ""


def happened(date: dt.date, building: str, student: str, planned: int) -> Happened:
    """What happened to a student's session of so many planned minutes."""
    for one in STORY:
        if one.is_of(date, building, student):
            return _told(one.reason, one.note, one.minutes, planned, one.given_by)
    habit = HABITS.get(student, USUAL)
    if chance(f"{student} {date}", 100) < habit.percent:
        return _told(habit.reason, habit.note, habit.minutes, planned, "")
    return Happened()


def chance(what: str, below: int) -> int:
    """A number from 0 that looks like chance, and is the same for the same words."""
    return zlib.crc32(what.encode()) % below


def _told(reason: str, note: str, minutes: int, planned: int, given_by: str) -> Happened:
    if not reason:
        return Happened(note=note, given_by=given_by)
    return Happened(reason, note, min(minutes, planned - 1) if minutes else None, given_by)
