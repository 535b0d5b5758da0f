"""What is asked of a term and what is answered: weeks, the standing timetable, and where a week departs from it.

Times of day are minutes after local midnight, lengths are minutes. Nothing here reads a clock, a setting or a
database.
"""

from dataclasses import dataclass
from enum import StrEnum

from schedule.planner.problem import Problem, Session
from schedule.planner.requirements import require, require_unique
from schedule.planner.result import Ended, GoalFigures, Itinerary

FIRMLY_ROUTINE = 60
"""Minutes of driving a week: what a session must save to leave its usual time, where nobody said otherwise."""


@dataclass(frozen=True, slots=True)
class UnusualDay:
    """A day of one place that isn't as its kind usually is: closed, or with other hours.

    ``pattern_key`` is the one that it would bear, or bears. ``words`` say why, as a colleague would ("closed for
    the election"). Only the reasons of departures come from it; what is possible on a day is said by the problem's
    starts.
    """

    place: str
    pattern_key: str
    words: str
    closed: bool = True


@dataclass(frozen=True, slots=True)
class TermWeek:
    """One dated week. ``id`` is its Monday in ISO form; unit ids mean the same in every week of a term.

    The week in force of ``problem`` (``current``) and usual times are not read: the standing timetable takes their
    place.
    """

    id: str
    problem: Problem
    unusual: tuple[UnusualDay, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class StandingSession:
    """A session that stands at the same time on every day of a kind: "Ann's class, Tuesdays 9:30, Cedar".

    ``pattern_key`` is the kind of day as starts bear it: a weekday, a cycle day, a weekday of A or B weeks.
    """

    unit: str
    pattern_key: str
    at: int
    place: str
    space: str | None = None


@dataclass(frozen=True, slots=True)
class StandingTimetable:
    """A standing timetable. It may hold sessions of services that begin later, or have ended, in a term."""

    sessions: tuple[StandingSession, ...] = ()

    def __post_init__(self) -> None:
        keys = [(one.unit, one.pattern_key, one.at, one.place) for one in self.sessions]
        require_unique([" ".join(map(str, key)) for key in keys], "sessions")


@dataclass(frozen=True, slots=True)
class LaterTimetable:
    """What stands from a week of the term on, in the place of the timetable before. ``since`` is that week's id.

    ``proved``: no fewer sessions of the timetable before could leave where they stand.
    """

    since: str
    standing: StandingTimetable
    proved: bool = False


@dataclass(frozen=True, slots=True)
class Term:
    """The whole question. ``standing``: the timetable in force, ``None`` where there is none yet.

    ``later``: those that follow it in the term, in their order. ``worth``: a session leaves its usual time only if
    that saves so many minutes of driving in its week, or if the calendar forces it to. Minutes owed and wishes come
    before both.
    """

    weeks: tuple[TermWeek, ...]
    standing: StandingTimetable | None = None
    worth: int = FIRMLY_ROUTINE
    later: tuple[LaterTimetable, ...] = ()

    def __post_init__(self) -> None:
        require(len(self.weeks) >= 1, "weeks", "There are no weeks.", "Give at least one week.")
        require_unique([week.id for week in self.weeks], "weeks")
        require(self.worth >= 0, "worth", "The minutes are negative.", "Give 0 or more minutes.")

    def week(self, week_id: str) -> TermWeek:
        """The week of that id; ``KeyError`` if there is none."""
        return {week.id: week for week in self.weeks}[week_id]


class DepartureReason(StrEnum):
    """Why a session isn't held at its standing time."""

    CLOSED = "closed"
    SHORTENED = "shortened"
    TAKEN = "taken"
    BLOCKED = "blocked"
    MADE_ROOM = "made_room"
    SAVES_DRIVING = "saves_driving"
    NOT_STANDING = "not_standing"


@dataclass(frozen=True, slots=True)
class Departure:
    """A session of one week that isn't held at its standing time, or is held and stands nowhere in the timetable.

    ``standing`` is ``None`` in the last case (``NOT_STANDING``: more is owed in this week, or its kind of day
    doesn't come). ``session`` is where it is held instead, ``None`` where it isn't held at all. ``words`` are a
    whole sentence. A group counts as one.
    """

    week: str
    unit: str
    why: DepartureReason
    words: str
    standing: StandingSession | None = None
    session: Session | None = None


@dataclass(frozen=True, slots=True)
class PlannedWeek:
    """One dated week of the answer, passed by the judge.

    ``expected``: standing sessions that this week would hold if nothing were in the way; ``open``: those whose
    start exists in it; ``kept``: those that are held there. ``least_driving``: no week of this problem that places
    as much and misses as few wishes drives less, proved or 0. ``proved``: no week keeps more of the timetable, and
    none that keeps as much drives less.
    """

    id: str
    itinerary: Itinerary
    figures: GoalFigures
    departures: tuple[Departure, ...]
    expected: int
    open: int
    kept: int
    least_driving: int
    proved: bool


@dataclass(frozen=True, slots=True)
class TermResult:
    """The answer for a term, weeks in the order asked.

    ``bound``: no choice of weeks, tied together or not, that places as much drives less over the term: the sum of
    the weeks' own. ``bound_unplaced``: the same for owed minutes not placed, times weight. ``stopped``: the run
    was ended before it was done, ``ended`` by what (effort, clock, person). ``bound_with_rotation``: no timetable
    with the same rotating sessions drives less, if weeks in which nothing is unusual hold all of it, and the others
    those rotating sessions that they hold here; ``None`` where nothing rotates, the timetable changes within the
    term, or it isn't known.
    ``later``: timetables that take the place of ``standing``, each from a week on.
    """

    standing: StandingTimetable
    weeks: tuple[PlannedWeek, ...]
    bound: int
    bound_unplaced: int
    stopped: bool
    later: tuple[LaterTimetable, ...] = ()
    seconds: float = 0.0
    first_term_seconds: float | None = None
    ended: Ended = Ended.PROOF
    message: str = ""
    bound_with_rotation: int | None = None

    @property
    def sessions(self) -> int:
        """Standing sessions that the weeks would hold if nothing were in the way."""
        return sum(week.expected for week in self.weeks)

    @property
    def open(self) -> int:
        """Those whose start exists in their week."""
        return sum(week.open for week in self.weeks)

    @property
    def kept(self) -> int:
        """Those held at their standing time."""
        return sum(week.kept for week in self.weeks)

    @property
    def drive_minutes(self) -> int:
        """Minutes at the wheel over the term."""
        return sum(week.figures.driving for week in self.weeks)

    @property
    def unplaced(self) -> int:
        """Owed minutes not placed over the term, times weight."""
        return sum(week.figures.unplaced for week in self.weeks)

    def week(self, week_id: str) -> PlannedWeek:
        """The week of that id; ``KeyError`` if it isn't in the answer."""
        return {week.id: week for week in self.weeks}[week_id]
