"""What the coordinator's page is made of: sums of minutes, loads, weeks, and what waits. Pure."""

import datetime as dt
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum


class By(StrEnum):
    """What minutes are added up by."""

    TEACHER = "teacher"
    BUILDING = "building"
    SERVICE = "service"


BY_WORDS = {By.TEACHER: "Teacher", By.BUILDING: "School", By.SERVICE: "Service"}


@dataclass(frozen=True, slots=True)
class OverviewAsked:
    """What of a district is looked at; None is all of it."""

    by: By = By.TEACHER
    teacher: int | None = None
    building: int | None = None
    service: str = ""

    @property
    def is_narrowed(self) -> bool:
        """Whether sums are of a part of the teachers' services, of which causes and loads aren't known."""
        return self.building is not None or bool(self.service)


@dataclass(frozen=True, slots=True)
class MinuteSums:
    """Minutes since the school year began, of some services. `short`: what the forecast misses by its dates."""

    services: int = 0
    services_behind: int = 0
    services_short: int = 0
    owed: int = 0
    delivered: int = 0
    made_up: int = 0
    missed: int = 0
    not_owed: int = 0
    undecided: int = 0
    unlogged: int = 0
    behind: int = 0
    opening: int = 0
    short: int = 0

    @property
    def given(self) -> int:
        """Delivered and made up."""
        return self.delivered + self.made_up


SUMS = tuple(one.name for one in fields(MinuteSums))


@dataclass(frozen=True, slots=True)
class SumsLine:
    """The sums of one teacher, school or sort of service. `key` narrows the page to it."""

    key: str
    name: str
    sums: MinuteSums


@dataclass(frozen=True, slots=True)
class ReasonLine:
    """Minutes missed for one reason."""

    name: str
    minutes: int


@dataclass(frozen=True, slots=True)
class TeacherLoad:
    """One teacher's week in force, in minutes and miles. `above` the contract, None without contract days."""

    teacher_id: int
    teacher: str
    students: int
    schools: int
    worked: int
    contract: int | None
    wheel: int
    miles: Decimal
    unplaced: int
    last_date: dt.date

    @property
    def above(self) -> int | None:
        """Minutes over what the contract has; negative where there is room."""
        return None if self.contract is None else self.worked - self.contract


@dataclass(frozen=True, slots=True)
class WeekPoint:
    """The sums at the end of a week, of `teachers` who were counted then."""

    monday: dt.date
    last_date: dt.date
    teachers: int
    sums: MinuteSums


@dataclass(frozen=True, slots=True)
class CauseLine:
    """What waits for one cause over the district: `row` is one of the counts that say so, `words` its sentence."""

    row: int
    words: str
    teachers: int
    things: int
    minutes: int
    due: dt.date


@dataclass(frozen=True, slots=True)
class KindLine:
    """What waits of one kind: how much there is in all, and the largest causes of it."""

    kind: int
    label: str
    things: int
    minutes: int
    teachers: int
    causes: tuple[CauseLine, ...]
    more: int


@dataclass(frozen=True, slots=True)
class MonthStanding:
    """How many teachers have signed a month, how many are closed, and vouchers by what they have come to."""

    month: dt.date
    teachers: int
    signed: int
    closed: int
    submitted: int
    returned: int
    approved: int

    @property
    def open(self) -> int:
        """Teachers whose month is neither signed nor closed."""
        return max(self.teachers - self.signed - self.closed, 0)


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """How many rows of one sort were changed in the last seven days, by how many people."""

    words: str
    rows: int
    people: int


@dataclass(frozen=True, slots=True)
class Overview:
    """How a district stands. `oldest` and `newest` say as of when; None where nothing was counted yet."""

    asked: OverviewAsked
    teachers: int
    uncounted: int
    oldest: dt.datetime | None
    newest: dt.datetime | None
    sums: MinuteSums
    lines: tuple[SumsLine, ...]
    reasons: tuple[ReasonLine, ...]
    loads: tuple[TeacherLoad, ...]
    weeks: tuple[WeekPoint, ...]
    waits: tuple[KindLine, ...]
