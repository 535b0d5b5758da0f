"""What pages and the API are told about a term: plain values, no rows, no name the viewer may not see.

Built by ``schedule.terms.selectors.terms``.
"""

import datetime as dt
from dataclasses import dataclass

from schedule.terms.words import found_words, way_words
from schedule.weeks.data import RunView
from schedule.weeks.question_data import TellView

FEW_WEEKS = 3
"""Below this every session of a timetable stands in few weeks."""


@dataclass(frozen=True, slots=True)
class StandsView:
    """A session of the standing timetable: whose, when ("Tuesdays 9:30"), where.

    ``stands``: weeks in which it is held there; ``away``: those in which the calendar or another session keeps it
    from that. ``since`` and ``until``: its first and last day, where the timetable changes within the term.
    """

    who: str
    when: str
    start: dt.time
    end: dt.time
    building_id: int
    building_name: str
    space_name: str
    setting_label: str
    class_name: str
    stands: int
    away: int
    since: dt.date | None = None
    until: dt.date | None = None

    @property
    def weeks(self) -> int:
        """Weeks in which its day would come."""
        return self.stands + self.away


@dataclass(frozen=True, slots=True)
class ExceptionView:
    """A session that isn't at its standing time in one week, in a sentence; ``why`` is a code."""

    why: str
    sentence: str


@dataclass(frozen=True, slots=True)
class NotHeldView:
    """A planned day of which sessions don't take place, as calendar, log and what happened stand; in a sentence."""

    date: dt.date
    sessions: int
    sentence: str
    whole_day: bool


@dataclass(frozen=True, slots=True)
class TermWeekView:
    """A dated week of a term. ``kept`` of ``open`` sessions whose time exists in it stand where they always do.

    ``week_id`` is its draft, or what was published of it, ``None`` where neither is there anymore.
    """

    monday: dt.date
    kind: str
    turn: str
    expected: int
    open: int
    kept: int
    drive_minutes: int
    minutes_owed: int
    minutes_placed: int
    proved: bool
    exceptions: tuple[ExceptionView, ...]
    week_id: int | None
    status: str
    status_label: str
    not_held: tuple[NotHeldView, ...] = ()


@dataclass(frozen=True, slots=True)
class KindView:
    """A kind of week that the calendar makes, and the week that shows it best.

    ``kind`` says which weeks they are ("A weeks"), ``turn`` where the rotation of a school is then ("begins on Day
    3"), empty where none has one.
    """

    kind: str
    turn: str
    weeks: int
    week_id: int | None
    monday: dt.date
    exceptions: int


@dataclass(frozen=True, slots=True)
class SideView:
    """One side of sameness: ``kept`` of ``of``."""

    side: str
    label: str
    kept: int
    of: int


@dataclass(frozen=True, slots=True)
class MoveView:
    """A session that stands elsewhere than before; ``before`` is empty if it is new, ``after`` if it is gone."""

    who: str
    before: str
    after: str
    begins: dt.date


@dataclass(frozen=True, slots=True)
class WayView:
    """A way to change the timetable in force: what moves, whom to tell, and minutes at the wheel.

    These are of one week of each kind that the calendar makes, together. ``taken``: this term is planned by it.
    ``left``: sessions that leave where they stand, one of a group counted for each of its services; no way that
    places as much has fewer than ``fewest``. ``ended``: what ended the search ("proof", "effort",
    "clock", "person"). ``beside``: what it costs and saves beside the fewest moves, in a sentence. ``once``: how
    often a session can't be where it stands in a single week, or gives way then, though its day is as usual.
    ``since``: the week in which the next timetable begins, where it isn't the first.
    """

    way: str
    label: str
    moves: tuple[MoveView, ...]
    drive_minutes: int
    unplaced: int
    proved: bool
    taken: bool
    tell: tuple[TellView, ...]
    left: int = 0
    fewest: int = 0
    ended: str = ""
    beside: str = ""
    once: int = 0
    since: dt.date | None = None

    @property
    def moved(self) -> int:
        """Sessions that stood somewhere before."""
        return sum(bool(one.before) for one in self.moves)

    @property
    def proof_words(self) -> str:
        """What is known of other ways, and what ended the search."""
        return way_words(self.way, proved=self.proved, left=self.left, fewest=self.fewest, ended=self.ended)


@dataclass(frozen=True, slots=True)
class LaterView:
    """What changes in the standing timetable from a day of the term on, where a service begins or ends.

    ``proved``: no fewer sessions could move then. ``tell``: the schools that a session comes to or leaves.
    """

    since: dt.date
    moves: tuple[MoveView, ...]
    proved: bool
    tell: tuple[TellView, ...]


@dataclass(frozen=True, slots=True)
class PeriodMinutesView:
    """One service in one period of the term, in minutes: owed, placed, and room in reserve of what is wanted.

    ``by_week``: it owes by the week, and the term decides only about its reserve. ``sentences``: which weeks hold
    it and why; ``behind``: why it will be behind, empty where that isn't to be expected.
    """

    line_id: int
    who: str
    statement: str
    period: str
    by_week: bool
    owed: int
    placed: int
    reserve: int
    reserve_wanted: int
    sentences: tuple[str, ...]
    behind: str


@dataclass(frozen=True, slots=True)
class ServiceMinutes:
    """All periods of one service together; of these there is at least one."""

    periods: tuple[PeriodMinutesView, ...]

    @property
    def who(self) -> str:
        """The student, or the class."""
        return self.periods[0].who

    @property
    def statement(self) -> str:
        """As the plan says it."""
        return self.periods[0].statement

    @property
    def owed(self) -> int:
        """Minutes that the term owes."""
        return sum(one.owed for one in self.periods)

    @property
    def placed(self) -> int:
        """Minutes of them that have a week."""
        return sum(one.placed for one in self.periods)

    @property
    def reserve(self) -> int:
        """Minutes that room is kept for."""
        return sum(one.reserve for one in self.periods)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Which weeks hold what, and why."""
        return tuple(sentence for one in self.periods for sentence in one.sentences)


@dataclass(frozen=True, slots=True)
class TermPointView:
    """The dated weeks of one timetable by what a usual time is worth, least minutes a week first in ``worths``.

    All of ``worths`` give these weeks. ``kept`` of ``open`` sessions stand where they always do; ``weeks_changed``:
    weeks with a session that leaves its usual time to save driving. ``taken``: the term's drafts are these.
    """

    worths: tuple[int, ...]
    kept: int
    open: int
    drive_minutes: int
    weeks_changed: int
    proved: bool
    taken: bool

    @property
    def worth(self) -> int:
        """What choosing this point asks for."""
        return self.worths[0]


@dataclass(frozen=True, slots=True)
class TermCurveView:
    """How far the choices between routine and least driving are worked out, and those that are.

    ``state``: waiting, running, done, failed or stopped. ``cut``: the clock or a person ended it before all were
    looked at.
    """

    state: str
    is_over: bool
    stop_asked: bool
    percent: int
    error: str
    points: tuple[TermPointView, ...]
    cut: bool


@dataclass(frozen=True, slots=True)
class TermView:
    """A term being planned, or planned, as far as the viewer may see it.

    ``state`` says where its standing timetable is: ``planning``, ``draft``, ``in_force``, ``taken_back``.
    ``least_driving``: no weeks that place as much drive less over the term, whatever stays the same; ``None`` where
    that isn't known of every week. ``shared``: what is proved of how minutes are shared out. ``cut``: the search
    ended before it was done. ``could_be_placed``: of the minutes left, so many may have a place.
    """

    term_id: int
    teacher_id: int
    teacher_name: str
    first_date: dt.date
    last_date: dt.date
    worth: int
    state: str
    state_label: str
    run: RunView
    sessions: int
    open: int
    kept: int
    drive_minutes: int
    least_driving: int | None
    minutes_owed: int
    minutes_placed: int
    standing: tuple[StandsView, ...]
    later: tuple[LaterView, ...]
    sides: tuple[SideView, ...]
    kinds: tuple[KindView, ...]
    weeks: tuple[TermWeekView, ...]
    ways: tuple[WayView, ...]
    minutes: tuple[PeriodMinutesView, ...]
    shared: tuple[str, ...]
    notes: tuple[str, ...]
    cut: bool = False
    could_be_placed: int | None = None

    @property
    def often(self) -> tuple[StandsView, ...]:
        """Sessions that are held at their time in more than one week, or whenever their day comes."""
        return tuple(one for one in self.standing if one not in self.seldom)

    @property
    def seldom(self) -> tuple[StandsView, ...]:
        """Sessions whose day comes and that are held elsewhere then, in all weeks but one at most."""
        if len(self.weeks) < FEW_WEEKS:
            return ()
        return tuple(one for one in self.standing if one.stands <= 1 and one.away)

    @property
    def words(self) -> str:
        """What the term is worth and what more there could be."""
        return found_words(
            left=self.minutes_left,
            driving=self.drive_minutes,
            least=self.least_driving,
            weeks=len(self.weeks),
            cut=self.cut,
        )

    @property
    def drafts(self) -> int:
        """Weeks that wait to be published."""
        return sum(week.status == "draft" for week in self.weeks)

    @property
    def longer_periods(self) -> tuple[ServiceMinutes, ...]:
        """What months, marking periods and years owe, and short weeks that are made good, by service."""
        services: dict[int, list[PeriodMinutesView]] = {}
        for one in self.minutes:
            if not one.by_week:
                services.setdefault(one.line_id, []).append(one)
        return tuple(ServiceMinutes(tuple(periods)) for periods in services.values())

    @property
    def will_be_behind(self) -> tuple[PeriodMinutesView, ...]:
        """Services that will be behind, and why."""
        return tuple(one for one in self.minutes if one.behind)

    @property
    def minutes_left(self) -> int:
        """Minutes that a week owes and couldn't place."""
        return self.minutes_owed - self.minutes_placed

    @property
    def reserve(self) -> int:
        """Minutes that room is kept for."""
        return sum(one.reserve for one in self.minutes)

    @property
    def reserve_wanted(self) -> int:
        """Minutes that are likely to be missed, and room for them would be good."""
        return sum(one.reserve_wanted for one in self.minutes)

    @property
    def not_held(self) -> tuple[NotHeldView, ...]:
        """The planned days of which sessions don't take place."""
        return tuple(day for week in self.weeks for day in week.not_held)

    @property
    def exceptions(self) -> int:
        """Exceptions of all weeks."""
        return sum(len(week.exceptions) for week in self.weeks)

    @property
    def routine_costs(self) -> int:
        """Minutes of driving over the term that the best weeks, each for itself, could save at most; 0: unknown."""
        return 0 if self.least_driving is None else max(0, self.drive_minutes - self.least_driving)
