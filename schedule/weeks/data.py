"""What is told about a planned week: plain values, local to the building, no name the viewer may not see."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from caseload.care.written import Care, ask_first_among
from schedule.weeks.aims import AimedWeek
from schedule.weeks.question_data import TellView
from travel.roads.base import LEG_SOURCE_WORDS, LegSource


@dataclass(frozen=True, slots=True)
class AttendeeView:
    """A student in a session. Who may see codes only gets no ``care``, and names that are empty."""

    student_id: int
    line_id: int
    code: str
    name: str
    grade: str
    provisional: bool = False
    care: Care | None = None
    short: str = ""
    tight: str = ""
    consultation: bool = False

    @property
    def who(self) -> str:
        """The name, or the code where there is none to see."""
        return self.name or self.code


@dataclass(frozen=True, slots=True)
class SessionView:
    """One session. ``label``: a class, or its students as the viewer may know them (``attendees``: not an office).

    ``off``, ``without``: why it is off, who is gone. ``changed``: how it is held otherwise, ``left`` minutes then.
    ``usual``: when earlier weeks held it. ``together``: with whom, ``beside``: those of them whose day changed.
    """

    uid: str
    date: dt.date
    start: dt.time
    end: dt.time
    start_minute: int
    end_minute: int
    building_id: int
    building_code: str
    building_name: str
    space_id: int | None
    space_name: str
    setting: str
    setting_label: str
    class_name: str
    period: str
    cycle_day: str
    pinned: bool
    label: str
    attendees: tuple[AttendeeView, ...] = ()
    usual: bool | None = None
    kind: str = "session"
    makes_up: bool = False
    building_short: str = ""
    off: str = ""
    without: tuple[str, ...] = ()
    changed: str = ""
    left: int | None = None
    together: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    students_from: str = ""
    students_from_id: int | None = None
    students_from_short: str = ""

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end_minute - self.start_minute

    @property
    def ask_first(self) -> str:
        """Whom to ask before an activity; empty where nobody in it has a caution."""
        return ask_first_among(one.care for one in self.attendees)


@dataclass(frozen=True, slots=True)
class ItemView:
    """What fills a day between sessions. ``kind``: drive, lunch, preparation or meeting.

    A drive runs from packing up to being signed in, from ``origin_name`` to ``building_name``;
    ``drive_minutes`` is the part at the wheel and ``source`` where it comes from. ``off`` says why it doesn't take
    place, ``elsewhere`` why it can't be held there; both empty on a usual day. ``straight``: a drive past a school
    that is left out; without ``source`` nobody knows its minutes.
    """

    kind: str
    kind_label: str
    date: dt.date
    start: dt.time
    end: dt.time
    start_minute: int
    end_minute: int
    title: str = ""
    origin_id: int | None = None
    origin_code: str = ""
    origin_name: str = ""
    building_id: int | None = None
    building_code: str = ""
    building_name: str = ""
    drive_minutes: int = 0
    miles: Decimal = Decimal(0)
    source: str = ""
    building_short: str = ""
    off: str = ""
    elsewhere: str = ""
    straight: bool = False

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end_minute - self.start_minute

    @property
    def source_words(self) -> str:
        """Where a drive's minutes come from, in words; empty for what isn't a drive."""
        return LEG_SOURCE_WORDS[LegSource(self.source)] if self.source else ""


@dataclass(frozen=True, slots=True)
class BuildingDayView:
    """A building on one date: whether students attend, the bells that ring, the cycle day, and why if unusual.

    ``opens_minute`` and ``closes_minute``: when its first period begins and its last ends, where bells are known.
    """

    building_code: str
    building_name: str
    open: bool
    bell: str
    cycle_day: str
    reason: str
    opens_minute: int | None = None
    closes_minute: int | None = None


@dataclass(frozen=True, slots=True)
class DayDetail:
    """One date. ``entries`` holds sessions and items together in time order, ``stops`` the buildings driven to.

    ``works`` is false on a day without contract hours or with every building closed; ``reason`` says why, or why
    no session takes place and nobody drives (``is_off``).
    """

    date: dt.date
    works: bool
    reason: str
    contract_start_minute: int | None
    contract_end_minute: int | None
    buildings: tuple[BuildingDayView, ...]
    sessions: tuple[SessionView, ...]
    items: tuple[ItemView, ...]
    entries: tuple[SessionView | ItemView, ...]
    is_off: bool = False
    stops: tuple[int, ...] = ()

    @property
    def held(self) -> tuple[SessionView, ...]:
        """The sessions that take place."""
        return tuple(one for one in self.sessions if not one.off)

    @property
    def drive_minutes(self) -> int:
        """Minutes at the wheel of what is driven."""
        return sum(item.drive_minutes for item in self.items if not item.off)

    @property
    def session_minutes(self) -> int:
        """Minutes of the sessions that take place."""
        return sum(session.minutes if session.left is None else session.left for session in self.held)


@dataclass(frozen=True, slots=True)
class UnplacedView:
    """Owed sessions without a place. ``reasons`` are sentences, ``ask`` says whom it would help to ask."""

    id: int
    line_id: int
    code: str
    name: str
    statement: str
    sessions: int
    minutes: int
    reasons: tuple[str, ...]
    ask: str

    @property
    def who(self) -> str:
        """The name, or the code where there is none to see."""
        return self.name or self.code


@dataclass(frozen=True, slots=True)
class GoalFigure:
    """One goal of a week; less is better. ``bound`` is ``None`` after edits by hand (nothing is proved then).

    ``status``: optimal, feasible, infeasible, unknown, or empty after edits by hand.
    """

    goal: str
    label: str
    value: int
    bound: int | None
    status: str


@dataclass(frozen=True, slots=True)
class PlaceView:
    """A building that the week goes to, for the lines of a drawing and for legends."""

    id: int
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class WeekDetail:
    """A version of a week, as far as the viewer may see it.

    ``broken``: hard rules that a draft breaks: it can't be published. ``no_longer_fits``: those that the week in
    force, from which it was made, breaks by now as well. ``title``: what it is called, ``name``: what somebody
    called it. ``apart``: joint sessions that aren't. ``notes``: the planner's. ``students_shown``: to no office.
    """

    week_id: int
    teacher_id: int
    teacher_name: str
    monday: dt.date
    last_date: dt.date
    status: str
    status_label: str
    version: int | None
    revision: int
    name: str
    published_by: str
    published_at: dt.datetime | None
    created_by: str
    created_at: dt.datetime
    based_on_id: int | None
    days: tuple[DayDetail, ...]
    places: tuple[PlaceView, ...]
    unplaced: tuple[UnplacedView, ...]
    goals: tuple[GoalFigure, ...]
    sessions_placed: int
    minutes_placed: int
    minutes_owed: int
    drive_minutes: int
    miles: Decimal
    broken: tuple[str, ...]
    no_longer_fits: tuple[str, ...]
    notes: tuple[str, ...]
    changes: tuple[str, ...]
    students_shown: bool
    may_edit: bool
    can_undo: bool
    title: str = ""
    apart: tuple[str, ...] = ()

    @property
    def is_draft(self) -> bool:
        """Whether this version can be edited and published."""
        return self.status == "draft"

    @property
    def cared_for(self) -> tuple[AttendeeView, ...]:
        """Each student of the week about whom something is written down, once, by name."""
        people = {
            person.student_id: person
            for day in self.days
            for session in day.sessions
            for person in session.attendees
            if person.care is not None and person.care.is_written
        }
        return tuple(sorted(people.values(), key=lambda one: (one.name, one.code)))

    @property
    def ask_first(self) -> str:
        """Whom to ask before an activity, for the page to say once; empty where nobody has a caution."""
        return ask_first_among(one.care for one in self.cared_for)


@dataclass(frozen=True, slots=True)
class SessionOption:
    """A moment to which a session could move (or be placed). ``breaks``: rules it would break, in sentences.

    ``added_drive_minutes`` is against the week as it stands; negative saves driving.
    """

    date: dt.date
    start: dt.time
    end: dt.time
    building_id: int
    building_code: str
    space_id: int | None
    space_name: str
    period: str
    added_drive_minutes: int
    breaks: tuple[str, ...] = ()
    is_now: bool = False
    building_name: str = ""
    building_short: str = ""


@dataclass(frozen=True, slots=True)
class GoalComparison:
    """One goal in two weeks; ``difference`` is other less one, so a negative number is better."""

    goal: str
    label: str
    one: int
    other: int

    @property
    def difference(self) -> int:
        """How much the other week has more."""
        return self.other - self.one


@dataclass(frozen=True, slots=True)
class WeekComparison:
    """Two versions side by side, in sentences. ``tell``: whom the changes concern."""

    goals: tuple[GoalComparison, ...]
    moved: tuple[str, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    same: int
    tell: tuple[TellView, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """Every difference, in one list."""
        return (*self.moved, *self.added, *self.removed)


@dataclass(frozen=True, slots=True)
class WeekLine:
    """A version in a list of versions; ``title`` is what it is called, ``name`` what somebody called it."""

    week_id: int
    monday: dt.date
    status: str
    status_label: str
    version: int | None
    name: str
    created_by: str
    created_at: dt.datetime
    published_by: str
    published_at: dt.datetime | None
    changes: tuple[str, ...]
    sessions: int
    drive_minutes: int
    unplaced_minutes: int
    title: str = ""
    revision: int = 0


@dataclass(frozen=True, slots=True)
class RunView:
    """A run of the planner as its page shows it. ``percent`` is 0 to 100; ``weeks`` are the drafts it made.

    ``state``: waiting, running, done, failed or stopped. ``error`` is a sentence for the person who asked.
    ``message`` is for whoever waits, ``technical`` the search's own way to say it.
    ``aim``: the choice that it was planned by, empty for make-ups; ``aims``: what either gives, week by week.
    ``first_time``: it plans a week's rest from then; ``changes``: what it changes, ``falls_out``: what stays.
    """

    run_id: int
    teacher_id: int
    first_date: dt.date
    last_date: dt.date
    state: str
    is_over: bool
    stop_asked: bool
    percent: int
    message: str
    week: str
    stage: str
    elapsed_seconds: float
    figures: tuple[GoalFigure, ...]
    weeks: tuple[WeekLine, ...]
    notes: tuple[str, ...]
    error: str
    requested_at: dt.datetime
    aim: str
    aim_label: str
    technical: str
    aims: tuple[AimedWeek, ...]
    first_time: dt.time | None = None
    changes: tuple[str, ...] = ()
    falls_out: tuple[str, ...] = ()
