"""What pages and the API are told about class hours: plain values, times local to the building.

Built by ``schedule.class_hour.selectors``.
"""

import datetime as dt
import uuid
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GoalServed:
    """A goal that a part serves, of a student in the session whom the viewer may see."""

    goal_id: int
    student_id: int
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class PartView:
    """A part with its times on that day. `usual`: its length on a usual day; `ask`: why to ask before it."""

    part_id: int
    title: str
    kind: str
    kind_label: str
    what: str
    cue: str
    start: dt.time
    end: dt.time
    minutes: int
    usual: int
    least: int
    when_short: int
    where: str
    leads: str
    aide_notes: str
    set_up: str
    set_up_by: str
    equipment: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()
    goals: tuple[GoalServed, ...] = ()

    @property
    def is_shorter(self) -> bool:
        """Whether it gave up minutes today."""
        return self.minutes < self.usual


@dataclass(frozen=True, slots=True)
class RunTapView:
    """A tap on the clock of a running session. ``kind``: begin, on, longer, back; ``part``: which ran (0: none)."""

    client_id: uuid.UUID
    kind: str
    part: int
    at: dt.datetime


@dataclass(frozen=True, slots=True)
class RoutineOption:
    """A routine that can be chosen for a session."""

    routine_id: int
    title: str


@dataclass(frozen=True, slots=True)
class HourView:
    """A session with its routine. ``routine_id`` is None where it has none; ``chosen``: chosen for this session.

    ``minutes``: what the class really has; ``planned_minutes``: what its session has in the week. ``out``: parts
    that fall out. ``left_over`` and ``over``: minutes that the routine can't fill, or by which it is too long.
    ``place_ask``: why to ask before going there. ``asked``: the one sentence whom to ask, where anything asks it.
    ``students_from``: their school, where they come to another building.
    """

    uid: str
    date: dt.date
    title: str
    building_name: str
    space_name: str
    start: dt.time
    end: dt.time
    minutes: int
    planned_minutes: int
    routine_id: int | None
    routine_title: str
    chosen: bool
    parts: tuple[PartView, ...] = ()
    out: tuple[str, ...] = ()
    left_over: int = 0
    over: int = 0
    advice: tuple[str, ...] = ()
    asked: str = ""
    place_ask: tuple[str, ...] = ()
    students_from: str = ""

    @property
    def is_shortened(self) -> bool:
        """Whether the class has fewer minutes than its session has in the week."""
        return self.minutes < self.planned_minutes

    @property
    def all_equipment(self) -> tuple[str, ...]:
        """What the parts take, each once."""
        return tuple(dict.fromkeys(text for part in self.parts for text in part.equipment))


@dataclass(frozen=True, slots=True)
class LoadLine:
    """So many of one kind of equipment; ``where``: the place in the closet, or the school it comes from."""

    equipment_id: int
    name: str
    count: int
    where: str = ""


@dataclass(frozen=True, slots=True)
class StopView:
    """One stop of the load list (`schedule.class_hour.loading.StopLoad`)."""

    building_id: int
    building_name: str
    arrive: dt.time
    here: tuple[LoadLine, ...]
    carry_in: tuple[LoadLine, ...]
    pick_up: tuple[LoadLine, ...]
    missing: tuple[LoadLine, ...]


@dataclass(frozen=True, slots=True)
class LoadList:
    """What a teacher takes along on a date. ``clashes``: what several teachers want at once, in sentences.

    ``without``: how many of the day's sessions have no routine, so that nobody knows what they need.
    """

    teacher_name: str
    date: dt.date
    car: tuple[LoadLine, ...]
    stops: tuple[StopView, ...]
    bring_back: tuple[LoadLine, ...]
    clashes: tuple[str, ...]
    sessions: int
    without: int


@dataclass(frozen=True, slots=True)
class DayClashes:
    """What is wanted in two places at once on a date, in sentences."""

    date: dt.date
    clashes: tuple[str, ...]
