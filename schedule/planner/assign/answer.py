"""What is answered: proposals of who serves whom, each with its figures, its bound and what ended the search."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from schedule.planner.result import Ended, Itinerary


class Favoring(StrEnum):
    """What a proposal looks for after minutes that are placed. ``BY_HAND``: what somebody asked to be priced."""

    DRIVING = "driving"
    CHANGES = "changes"
    EVEN = "even"
    NEAREST = "nearest"
    BY_HAND = "by_hand"


@dataclass(frozen=True, slots=True)
class Worth:
    """What one more of each counts beside a minute of driving a week, in such minutes.

    ``change``: a student (and field) who doesn't keep last year's teacher. ``uneven``: a minute by which a
    teacher's load (sessions and driving) lies off the even share. ``meeting``: one more teacher in a building.
    Minutes that aren't placed always come first and are no part of this.
    """

    driving: float = 1.0
    change: float = 0.0
    uneven: float = 0.0
    meeting: float = 0.0


WORTHS = {
    Favoring.DRIVING: Worth(),
    Favoring.CHANGES: Worth(change=200.0),
    Favoring.EVEN: Worth(uneven=2.0),
    Favoring.NEAREST: Worth(),
    Favoring.BY_HAND: Worth(),
}


@dataclass(frozen=True, slots=True)
class YearLoad:
    """One teacher's part, as the planner's week for it says: all minutes a week.

    ``owed`` of the services given, ``placed`` and ``unplaced`` of them in the week, ``driving`` at the wheel.
    ``short``: minutes by which preparation falls short of the days' wish. ``miles`` in tenths, 0 where no miles
    are known. ``students`` and ``places`` without doubles, in the question's order. ``plan``: a week that shows
    it can be done; left out of what is kept as a record.
    """

    teacher: str
    services: tuple[str, ...]
    students: tuple[str, ...]
    places: tuple[str, ...]
    owed: int
    placed: int
    unplaced: int
    driving: int
    short: int
    miles: int
    contract: int
    plan: Itinerary | None = field(default=None, compare=False)

    @property
    def share(self) -> float:
        """Sessions placed and driving as a share of the contract's minutes: what evenness is measured by."""
        return (self.placed + self.driving) / self.contract


@dataclass(frozen=True, slots=True)
class StaffingFigures:
    """A proposal in figures; minutes and tenths of a mile a week, over all teachers.

    ``nobody``: owed minutes of services that no teacher has (part of ``unplaced``). ``kept`` of ``could_keep``
    students (each field counts) whose teacher of last year is here. ``meetings``: pairs of teacher and building;
    ``served_places``: buildings with a service. ``most_teachers`` in one building, ``most_places`` for one teacher.
    """

    owed: int
    placed: int
    unplaced: int
    nobody: int
    driving: int
    short: int
    miles: int
    kept: int
    could_keep: int
    meetings: int
    served_places: int
    most_teachers: int
    most_places: int

    @property
    def teachers_a_place(self) -> float:
        """Teachers in a building, on average."""
        return self.meetings / self.served_places if self.served_places else 0.0


@dataclass(frozen=True, slots=True)
class Proposal:
    """Who serves whom. ``assignment``: teacher id by service id; services without an entry have nobody.

    ``loads``: one for each teacher, in the question's order. ``cost``: driving and what ``Worth`` counts beside it.
    ``bound``: none that places as much and misses no more preparation costs less (0: not known). ``ended``: proof
    or what ended it. ``broken``: hard rules that it breaks, a sentence each; only a change by hand has any.
    ``work``: seconds of work.
    """

    favoring: Favoring
    assignment: Mapping[str, str]
    loads: tuple[YearLoad, ...]
    figures: StaffingFigures
    cost: float
    bound: float = 0.0
    ended: Ended = Ended.EFFORT
    broken: tuple[str, ...] = ()
    seed: int = 0
    work: float = 0.0

    @property
    def proved(self) -> bool:
        """Whether no assignment that places as much is better by what this one favors."""
        return self.ended is Ended.PROOF

    def load(self, teacher_id: str) -> YearLoad:
        """That teacher's part; ``KeyError`` if there is none."""
        for one in self.loads:
            if one.teacher == teacher_id:
                return one
        raise KeyError(teacher_id)
