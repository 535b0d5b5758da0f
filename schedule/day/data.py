"""What the day sheet shows: plain values, cut down to what the viewer may see.

Times of day are local to the building. Built by ``schedule.day.selectors.sheet``.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from caseload.care.written import Care, ask_first_among
from caseload.progress.selectors.taking import SessionGoals
from schedule.class_hour.data import HourView
from schedule.day.drive_match import Timed, drive_meant
from schedule.weeks.data import SessionView
from schedule.weeks.selectors.arrivals import LegArrival


@dataclass(frozen=True, slots=True)
class DayNotice:
    """A closing, delayed opening, early dismissal or other special day that holds on the date.

    ``hours``: when the schools concerned begin and end, in sentences. ``to_mark``: sessions that it touches and
    that wait for their log, where the viewer may log them.
    """

    kind: str
    kind_label: str
    place: str
    building_id: int | None
    title: str
    closes: bool
    hours: tuple[str, ...] = ()
    to_mark: int = 0


@dataclass(frozen=True, slots=True)
class DrivenView:
    """A drive as it was logged: times local to the building left and to the one reached; minutes at the wheel."""

    drive_id: int
    started: dt.time | None
    arrived: dt.time | None
    minutes: int | None
    odometer_before: Decimal | None = None
    odometer_after: Decimal | None = None

    @property
    def is_under_way(self) -> bool:
        """Whether it has begun and its end wasn't tapped."""
        return self.started is not None and self.arrived is None


@dataclass(frozen=True, slots=True)
class DriveView:
    """A drive of the day. ``key`` names it in a tap: both buildings, and when it begins as planned.

    ``minutes``: at the wheel, None where nobody knows; ``leave``: when the car leaves the parking lot.
    ``straight``: it takes the place of drives by way of a building that isn't driven to.
    """

    key: str
    origin_id: int
    origin_name: str
    destination_id: int
    destination_name: str
    minutes: int | None
    miles: Decimal | None
    source: str
    source_words: str
    leave: dt.time
    park_by: dt.time
    straight: bool = False
    arrival: LegArrival | None = None
    driven: DrivenView | None = None
    may_start: bool = False
    may_arrive: bool = False
    undo: str = ""

    @property
    def difference(self) -> int | None:
        """Minutes driven above those planned; None where either is unknown."""
        if self.minutes is None or self.driven is None or self.driven.minutes is None:
            return None
        return self.driven.minutes - self.minutes

    @property
    def less(self) -> int:
        """Minutes driven below those planned, 0 where it took longer."""
        return max(0, -(self.difference or 0))


def leg_meant(key: str, drives: Iterable[tuple[DriveView, int]]) -> DriveView | None:
    """The drive of a key among some with their minutes; a key of a page that was kept before names it too."""
    legs = {leg.key: (leg, start) for leg, start in drives}
    rows = [Timed(one, (leg.origin_id, leg.destination_id), start) for one, (leg, start) in legs.items()]
    meant = drive_meant(key, rows)
    return legs[str(meant.key)][0] if meant is not None else None


@dataclass(frozen=True, slots=True)
class DayPerson:
    """A student's service (``line_id``) in a session, and what is logged.

    ``name`` is empty and ``care`` None where the viewer may see codes only.

    ``delivered`` and ``planned``: minutes, None as long as nothing is logged.
    """

    student_id: int
    line_id: int
    code: str
    name: str
    provisional: bool
    entry_id: int | None = None
    delivered: int | None = None
    planned: int | None = None
    care: Care | None = None


@dataclass(frozen=True, slots=True)
class DayLine:
    """One thing of the day. ``kind``: session, drive, lunch, preparation or meeting.

    ``off`` says why it doesn't take place, empty if it does; ``warning`` what else stands against it. ``log``:
    logged, waiting or to_come for a session that the viewer logs, else empty. ``hour``: its routine on that day,
    where the viewer may see routines. ``goals``: those of its students, for a viewer who may take data on them.
    ``cover``: who stands in at this session, where it isn't the whole day.
    """

    kind: str
    kind_label: str
    title: str
    start: dt.time
    end: dt.time
    start_minute: int
    end_minute: int
    building_id: int | None
    building_name: str
    off: str = ""
    warning: str = ""
    session: SessionView | None = None
    people: tuple[DayPerson, ...] = ()
    log: str = ""
    leg: DriveView | None = None
    hour: HourView | None = None
    goals: SessionGoals | None = None
    cover: str = ""

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end_minute - self.start_minute

    @property
    def is_to_log(self) -> bool:
        """Whether it takes place, and somebody in it waits for a log."""
        return bool(self.log in {"waiting", "to_come"} and not self.off and self.waiting)

    @property
    def waiting(self) -> int:
        """How many of its students wait for a log."""
        return len(self.people) - self.logged

    @property
    def logged(self) -> int:
        """How many of its students are logged."""
        return sum(one.delivered is not None for one in self.people)


@dataclass(frozen=True, slots=True)
class DayBegin:
    """Where the day begins, and by when the car is parked there."""

    building_id: int
    building_name: str
    park_by: dt.time


@dataclass(frozen=True, slots=True)
class OtherDrive:
    """A logged drive that the day doesn't plan."""

    origin_name: str
    destination_name: str
    driven: DrivenView


@dataclass(frozen=True, slots=True)
class DaySheet:
    """A teacher's day in the week in force.

    ``week_id`` is None where no week is in force (or none that the viewer sees). ``reason`` says why nothing stands
    on the day, or why no session of it takes place. ``before`` and ``after`` are the days beside it,
    ``next_day`` the next one with a session. ``cover`` says who stands in for the teacher; empty where nobody does.
    ``phones``: of the offices of the day's schools by id, where one is known.
    """

    teacher_id: int
    teacher_name: str
    date: dt.date
    is_today: bool
    may_tap: bool
    week_id: int | None
    version: int | None
    reason: str
    notices: tuple[DayNotice, ...]
    begin: DayBegin | None
    lines: tuple[DayLine, ...]
    other_drives: tuple[OtherDrive, ...]
    before: dt.date
    after: dt.date
    next_day: dt.date | None
    cover: str = ""
    phones: Mapping[int, str] = field(default_factory=dict)

    @property
    def held(self) -> tuple[DayLine, ...]:
        """What takes place."""
        return tuple(line for line in self.lines if not line.off)

    @property
    def sessions(self) -> tuple[DayLine, ...]:
        """The sessions that take place."""
        return tuple(line for line in self.held if line.kind == "session")

    @property
    def ask_first(self) -> str:
        """Whom to ask before an activity, for the page to say once; empty where nobody has a caution."""
        return ask_first_among(one.care for line in self.lines for one in line.people)

    @property
    def takes_equipment(self) -> bool:
        """Whether a routine of the day takes any."""
        return any(line.hour is not None and line.hour.all_equipment for line in self.held)

    @property
    def drive_minutes(self) -> int:
        """Minutes at the wheel that are planned for what takes place."""
        return sum(line.leg.minutes or 0 for line in self.held if line.leg is not None)

    @property
    def miles(self) -> Decimal:
        """Miles of the same."""
        return sum((line.leg.miles or Decimal(0) for line in self.held if line.leg is not None), Decimal(0))

    def leg(self, key: str) -> DriveView | None:
        """The drive of a key, taking place or not."""
        return leg_meant(key, ((line.leg, line.start_minute) for line in self.lines if line.leg is not None))
