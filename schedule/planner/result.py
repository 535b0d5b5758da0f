"""What the planner answers: a plan timed to the minute, with what is proved about it and what is not."""

from dataclasses import dataclass
from enum import StrEnum

from schedule.planner.problem import Goal, Problem, Session


class Status(StrEnum):
    """How much is known. The four are never blurred.

    ``OPTIMAL``: no plan is better, proved. ``FEASIBLE``: every hard rule holds, a better plan may exist.
    ``INFEASIBLE``: no plan meets the hard rules, proved. ``UNKNOWN``: stopped before any plan was found.
    """

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"


class Ended(StrEnum):
    """What ended the search for a goal: a proof, time, or a limit of the method."""

    PROOF = "proof"
    CLOCK = "clock"
    EFFORT = "effort"
    PERSON = "person"
    SERVICES = "services"
    STARTS = "starts"
    LABELS = "labels"
    COLUMNS = "columns"
    NODES = "nodes"
    GAP = "gap"
    EARLIER = "earlier goal"
    OWN_TIMES = "own times"
    DETOURS = "detours"


ENDED_WORDS = {
    Ended.PROOF: "it is proved that there is nothing better",
    Ended.CLOCK: "the time limit came first",
    Ended.EFFORT: "the effort allowed was spent first",
    Ended.PERSON: "it was stopped by hand",
    Ended.SERVICES: "more services are possible on one day than the proof can tell apart (62)",
    Ended.STARTS: "windows and starts leave more steps from visit to visit than the memory allowed holds",
    Ended.LABELS: "more beginnings of days lie near the bound than the memory allowed holds",
    Ended.COLUMNS: "more whole days lie near the bound than can be chosen among (60,000)",
    Ended.NODES: "choosing among the days near the bound branched too often",
    Ended.GAP: "the bound stayed further from the best week than whole days are listed for",
    Ended.EARLIER: "a goal before it isn't proved",
    Ended.OWN_TIMES: "the bound leaves out how far a service lies off its own usual time of day",
    Ended.DETOURS: "by the drive times a detour is quicker than the straight way",
}
"""What ended the search, as a sentence goes on after "because" or a colon."""


class ItemKind(StrEnum):
    """What a stretch of the day is spent on. ``SETUP``: setting up before a session that follows a visit."""

    SESSION = "session"
    BLOCK = "block"
    DRIVE = "drive"
    LUNCH = "lunch"
    SETUP = "setup"
    PREPARATION = "preparation"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class Item:
    """One line of an itinerary, from ``start`` to ``end`` in minutes after midnight.

    A drive runs from packing up to being signed in: ``place`` is where it begins, ``to_place`` where it ends,
    ``drive_minutes`` the part at the wheel. ``unit`` and ``space`` belong to sessions.
    """

    kind: ItemKind
    start: int
    end: int
    place: str | None = None
    to_place: str | None = None
    unit: str | None = None
    space: str | None = None
    label: str = ""
    drive_minutes: int = 0


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day's itinerary, in time order and without overlaps."""

    day: str
    items: tuple[Item, ...]

    def of_kind(self, *kinds: ItemKind) -> tuple[Item, ...]:
        """The items of these kinds, in time order."""
        return tuple(item for item in self.items if item.kind in kinds)


@dataclass(frozen=True, slots=True)
class Itinerary:
    """A plan for the horizon: one ``DayPlan`` a day, in the problem's order of days."""

    days: tuple[DayPlan, ...]

    @property
    def sessions(self) -> tuple[Session, ...]:
        """Every session held, in order of day and time."""
        return tuple(
            Session(item.unit or "", day.day, item.start, item.place or "", item.space, item.end - item.start)
            for day in self.days
            for item in day.of_kind(ItemKind.SESSION)
        )

    def day(self, day_id: str) -> DayPlan:
        """The itinerary of that day; ``KeyError`` if there is none."""
        for one in self.days:
            if one.day == day_id:
                return one
        raise KeyError(day_id)


@dataclass(frozen=True, slots=True)
class GoalFigures:
    """The value of each goal, less is better.

    ``unplaced``: owed minutes not placed, times the service's weight. ``wishes``: minutes of preparation
    missed and minutes over the longest stretch. ``driving``: minutes at the wheel. ``change``: sessions of
    the week in force that are not kept. ``sameness``: minutes off the usual time, and 15 for each day by
    which two sessions of a service stand closer than evenly spread.
    """

    unplaced: int
    wishes: int
    driving: int
    change: int
    sameness: int

    def of(self, goal: Goal) -> int:
        """The value of one goal."""
        return int(getattr(self, goal.value))

    def in_order(self, goals: tuple[Goal, ...]) -> tuple[int, ...]:
        """The values in the order of the goals, ready to be compared."""
        return tuple(self.of(goal) for goal in goals)


@dataclass(frozen=True, slots=True)
class Stage:
    """One goal after the other: its value, a true lower bound given the goals before it, and its status.

    ``ended``: what ended the search for it.
    """

    goal: Goal
    value: int
    bound: int
    status: Status
    ended: Ended = Ended.PROOF

    @property
    def gap(self) -> float:
        """Value less bound as a share of the value; 0 where they meet."""
        return 0.0 if self.value <= self.bound else (self.value - self.bound) / self.value


@dataclass(frozen=True, slots=True)
class Reason:
    """Why one possible start is not used: ``text`` in words, ``ask`` whom it would help to ask."""

    day: str
    at: int
    place: str
    code: str
    text: str
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Request:
    """One thing to ask for that would place a session; it was tried and is true.

    ``added_drive`` is the difference in minutes at the wheel over the horizon.
    """

    service: str
    day: str
    at: int
    place: str
    text: str
    ask: str
    added_drive: int


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Sessions of a service that are not placed, why, and what would place one."""

    service: str
    sessions: int
    minutes: int
    sentence: str
    reasons: tuple[Reason, ...] = ()
    ask: tuple[str, ...] = ()
    request: Request | None = None


@dataclass(frozen=True, slots=True)
class GroupFormed:
    """A group that the plan holds."""

    group: str
    members: tuple[str, ...]
    day: str
    at: int
    place: str


@dataclass(frozen=True, slots=True)
class OtherOrder:
    """What another order of the goals gives: the figures of a week that the judge has passed.

    ``proved``: no week is better in that order, sameness left aside. Otherwise it is the best that was met.
    """

    goals: tuple[Goal, ...]
    figures: GoalFigures
    proved: bool


@dataclass(frozen=True, slots=True)
class Result:
    """The answer. ``plan`` is ``None`` only where the status is infeasible or unknown.

    ``ended`` is what ended the search, of the first goal that isn't proved; ``stopped`` whenever that is no proof.
    ``message`` is one sentence for a person. ``labels`` counts those of the exact search, ``work`` is in
    seconds (``week.work``). ``other`` is what the
    other order that was asked for gives, ``None`` where it isn't known. ``current_sessions``: those of the week in
    force that could be kept; the change counts those that aren't.
    """

    status: Status
    plan: Itinerary | None
    figures: GoalFigures | None
    stages: tuple[Stage, ...]
    unplaced: tuple[Unplaced, ...] = ()
    groups: tuple[GroupFormed, ...] = ()
    seed: int = 0
    workers: int = 1
    seconds: float = 0.0
    first_plan_seconds: float | None = None
    stopped: bool = False
    ended: Ended = Ended.PROOF
    message: str = ""
    labels: int = 0
    work: float = 0.0
    other: OtherOrder | None = None
    current_sessions: int = 0


def sessions_of_services(problem: Problem, sessions: tuple[Session, ...]) -> dict[str, list[Session]]:
    """The sessions that cover each service, a group's session counting for each member.

    Sessions of units that the problem doesn't know are left out.
    """
    covered: dict[str, list[Session]] = {service.id: [] for service in problem.services}
    for session in sessions:
        if problem.has_unit(session.unit):
            for member in problem.members(session.unit):
                covered[member].append(session)
    return covered
