"""What calendar, log and "Something happened" say of a date, and what that makes of each session.

Pure, and beside `schedule.weeks.day_shape` the only place where this is decided. Times are minutes after local
midnight, buildings are known by their keys.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from schedule.calendar.closed_days import Closing
from schedule.calendar.happened import MIDNIGHT, OF_SCHOOLS, Became, HappeningKind
from schedule.calendar.words import clock_words

SESSION, DRIVE, MEETING = "session", "drive", "meeting"


@dataclass(frozen=True, slots=True)
class Part:
    """A session, drive, lunch, preparation or meeting as it was planned. `key` tells a session from every other.

    `students_from`: their own school, of a session that is held in another building.
    """

    kind: str
    start: int
    end: int
    building: int | None
    origin: int | None = None
    key: str = ""
    students_from: int | None = None

    @property
    def schools(self) -> tuple[int, ...]:
        """Whose calendars and bells it depends on: where it is held, and where its students are at school."""
        return tuple(abs(one) for one in (self.building, self.students_from) if one is not None)


@dataclass(frozen=True, slots=True)
class Standing:
    """What calendar and log say of a date: closings by school, sessions in which nobody was taught, bases.

    `dismissed` and `opens`: the last bell of schools that send students home early on it, the first of those that
    open late. `left`: sessions whose students have all left. `handed_over`: sessions whose services another teacher
    gives by then. `teacher_left`: the date lies after the teacher's last day of work, and nobody stands in.

    `taught`: sessions in which somebody was, by the log: whatever is said of the day, they were held.

    `covered`: sessions at which somebody stands in while the teacher is away; `anothers`: sessions of the day that
    are somebody else's to give, where it is asked for one of several who share it.

    `became`: sessions that something happened to. `away`: when the teacher is away and nobody stands in. `least`:
    of fewer minutes than these nothing is held.

    `ways`: minutes on the way of those who come to a session from another school, where a school's hours are cut.
    """

    closings: Mapping[int, Closing]
    untaught: frozenset[str] = frozenset()
    bases: frozenset[int] = frozenset()
    dismissed: Mapping[int, int] = field(default_factory=dict)
    left: frozenset[str] = frozenset()
    handed_over: frozenset[str] = frozenset()
    teacher_left: bool = False
    opens: Mapping[int, int] = field(default_factory=dict)
    became: Mapping[str, Became] = field(default_factory=dict)
    away: tuple[tuple[int, int], ...] = ()
    least: int = 1
    taught: frozenset[str] = frozenset()
    covered: frozenset[str] = frozenset()
    anothers: frozenset[str] = frozenset()
    ways: Mapping[str, int] = field(default_factory=dict)

    def hours_of(self, part: Part, school: int) -> tuple[int, int]:
        """Between which minutes a school leaves its students to a session: they go there first, and back after."""
        way = self.ways.get(part.key, 0) if school == part.students_from else 0
        first, last = self.opens.get(school), self.dismissed.get(school)
        return 0 if first is None else first + way, MIDNIGHT if last is None else last - way

    @property
    def away_all_day(self) -> bool:
        """Whether the teacher is away from the first minute to the last, and nobody drives in their place."""
        return (0, MIDNIGHT) in self.away and not self.covered

    @property
    def cuts(self) -> bool:
        """Whether anything takes some sessions of a school and leaves others."""
        return bool(self.dismissed or self.opens or self.became or self.away or self.anothers)

    def is_in_vain(self, part: Part) -> bool:
        """Whether nobody would come to a session that the log doesn't say was given, or who is to meet is away."""
        if part.key in self.taught:
            return False
        return _off_by_hours(part, self) is not None if part.kind == SESSION else self.is_away_from(part)

    def is_away_from(self, part: Part) -> bool:
        """Whether the teacher is away all the time that something takes."""
        return any(start <= part.start and part.end <= end for start, end in self.away)


class Why(StrEnum):
    """Why something doesn't take place."""

    CLOSED = "closed"
    NO_STUDENTS = "no_students"
    UNTAUGHT = "untaught"
    STUDENTS_LEFT = "students_left"
    HANDED_OVER = "handed_over"
    TEACHER_LEFT = "teacher_left"
    DISMISSED = "dismissed"
    DELAYED = "delayed"
    ANOTHERS = "anothers"
    AWAY = "away"
    LATE = "late"
    SPACE_TAKEN = "space_taken"
    CLASS_AWAY = "class_away"
    STUDENT_ABSENT = "student_absent"
    AIDE_MISSING = "aide_missing"
    GRADE_OUT = "grade_out"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Off:
    """Why something doesn't take place, and the school that it is about."""

    why: Why
    building: int | None


@dataclass(frozen=True, slots=True)
class Short:
    """What is left of a session that isn't held as long as planned, and what took the rest."""

    start: int
    end: int
    off: Off

    @property
    def minutes(self) -> int:
        """What is left."""
        return self.end - self.start


def session_off(part: Part, standing: Standing) -> Off | None:
    """Why a session doesn't take place."""
    building = abs(part.building or 0)
    if standing.teacher_left or part.key in standing.left:
        return Off(Why.TEACHER_LEFT if standing.teacher_left else Why.STUDENTS_LEFT, building)
    if part.key in standing.handed_over:
        return Off(Why.HANDED_OVER, building)
    if part.key in standing.taught:
        return None
    return _closed(part, standing) or _off_by_hours(part, standing)


def _closed(part: Part, standing: Standing) -> Off | None:
    """What closes one of the schools that it depends on."""
    return next((Off(Why(standing.closings[one]), one) for one in part.schools if one in standing.closings), None)


def session_short(part: Part, standing: Standing) -> Short | None:
    """What is left of a session that takes place, where that isn't all of it."""
    short = _left(part, standing)
    return short if short is not None and short.minutes >= standing.least else None


def _off_by_hours(part: Part, standing: Standing) -> Off | None:
    """Why too little is left of a session: by the school's hours, or by what happened. Not where it was held."""
    if part.key in standing.anothers:
        return Off(Why.ANOTHERS, abs(part.building or 0))
    if part.key in standing.taught:
        return None
    # Where it is held decides whether anybody drives there; here it is the students' school that is closed.
    closed = _closed(part, standing) if part.students_from is not None else None
    return closed or _off_as_left(part, standing)


def _off_as_left(part: Part, standing: Standing) -> Off | None:
    """Why nothing is left of a session, or too little."""
    became = standing.became.get(part.key)
    if became is not None and became.off is not None:
        return Off(why_of(became.off), abs(part.building or 0))
    short = _left(part, standing)
    return short.off if short is not None and short.minutes < standing.least else None


def _left(part: Part, standing: Standing) -> Short | None:
    """What the school's hours and what happened leave of a session, which may be nothing."""
    building = abs(part.building or 0)
    became = standing.became.get(part.key)
    start, end = (part.start, part.end) if became is None else (became.start, became.end)
    why = why_of(became.cut) if became is not None and became.cut is not None else None
    for one in part.schools:
        first, last = standing.hours_of(part, one)
        if start < first:
            start, why, building = first, Why.DELAYED, one
        if last < end:
            end, why, building = last, Why.DISMISSED, one
    return Short(start, end, Off(why, building)) if why is not None else None


def why_of(happened: HappeningKind) -> Why:
    """What happened, as a reason; a school is out for some grades only."""
    return Why.GRADE_OUT if happened in OF_SCHOOLS else Why(happened.value)


def off_words(off: Off, names: Mapping[int, str]) -> str:
    """Why, as a clause: ``South Hollow School is closed``."""
    return _OFF_WORDS[off.why].format(name=names.get(off.building or 0, "this school"))


def short_words(short: Short, names: Mapping[int, str]) -> str:
    """What is left of a session and why, as a clause: ``15 minutes left, 11:15 to 11:30: ...``."""
    left = f"{short.minutes} minutes left, {clock_words(short.start)} to {clock_words(short.end)}"
    name = names.get(short.off.building or 0, "this school")
    return f"{left}: {_SHORT_WORDS.get(short.off.why, _OFF_WORDS[short.off.why]).format(name=name)}"


def otherwise_words(happened: HappeningKind) -> str:
    """In spite of what a session is held, as a clause."""
    return _OTHERWISE.get(happened, "")


_OTHERWISE = {
    HappeningKind.SPACE_TAKEN: "its space is taken: hold it elsewhere",
    HappeningKind.AIDE_MISSING: "the aide is missing",
}
_SHORT_WORDS = {
    Why.DISMISSED: "{name} sends students home early",
    Why.DELAYED: "{name} opens late",
}
_OFF_WORDS = {
    Why.CLOSED: "{name} is closed",
    Why.NO_STUDENTS: "{name} has no students",
    Why.DISMISSED: "{name} sends students home before",
    Why.DELAYED: "{name} opens later",
    Why.UNTAUGHT: "the log says that nobody was taught at {name}",
    Why.STUDENTS_LEFT: "its students have left {name}",
    Why.HANDED_OVER: "another teacher gives it now",
    Why.TEACHER_LEFT: "the teacher has left",
    Why.ANOTHERS: "somebody else gives it",
    Why.AWAY: "the teacher is away",
    Why.LATE: "the teacher is late",
    Why.SPACE_TAKEN: "its space is taken",
    Why.CLASS_AWAY: "the class is away",
    Why.STUDENT_ABSENT: "nobody in it is there that day",
    Why.AIDE_MISSING: "the aide is missing",
    Why.GRADE_OUT: "{name} is out for its grade",
    Why.NOTHING: "nothing to drive to",
}
