"""What still waits with a teacher who leaves or is away from a day on, who is still with them, what is arranged."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Q, QuerySet

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from caseload.delivery.models import DeliveryEntry
from caseload.months.models import LogMonth
from caseload.plans.enrollment.selectors import students_to_hand_over
from caseload.plans.models import Student
from schedule.attention.selectors.attention import Attention, attention
from schedule.attention.selectors.rows import Kind
from schedule.leaving.models import TeacherLeave
from schedule.make_ups.selectors.needs import booked_make_ups
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.load import lines_of
from travel.mileage.models import Trip, Voucher


class Waits(StrEnum):
    """What a thing that waits is about."""

    LOG = "log"
    DECISION = "decision"
    MAKE_UP = "make_up"
    DATA = "data"
    REPORT = "report"
    MONTH = "month"
    VOUCHER = "voucher"
    WEEK = "week"
    DRAFT = "draft"
    BOOKED = "booked"


BEFORE = {
    Kind.UNLOGGED: (Waits.LOG, "session isn't logged", "sessions aren't logged"),
    Kind.UNDECIDED: (Waits.DECISION, "missed session waits for a decision", "missed sessions wait for a decision"),
    Kind.BEHIND: (Waits.MAKE_UP, "service is behind and not made up", "services are behind and not made up"),
    Kind.NO_DATA: (Waits.DATA, "goal waits for data", "goals wait for data"),
    Kind.REPORT: (Waits.REPORT, "progress report is due", "progress reports are due"),
}
MONTHS_BACK = 3
"""Older months of the log are the coordinator's page of months to show."""


@dataclass(frozen=True, slots=True)
class LeavingWait:
    """One sort of thing that waits, and how many there are; `month` is the first day of the one it is about."""

    about: Waits
    count: int
    words: str
    month: dt.date | None = None

    @property
    def said(self) -> str:
        """Both in words; of a month there is one."""
        return self.words if self.month else f"{self.count} {self.words}"


@dataclass(frozen=True, slots=True)
class Leaving:
    """A teacher and a first day away: what waits before it, what stands after it, who is still there then."""

    teacher: Person
    first_day: dt.date
    before: tuple[LeavingWait, ...]
    after: tuple[LeavingWait, ...]
    still: int
    arranged: tuple[TeacherLeave, ...]


def leave_get(viewer: Person, pk: int) -> TeacherLeave:
    """One that the viewer may see. Raises ``ApplicationError`` (404)."""
    row = leaves(viewer).filter(pk=pk).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def leaves(viewer: Person) -> QuerySet[TeacherLeave]:
    """All that the viewer may see, the latest first."""
    return TeacherLeave.objects.visible_to(viewer).select_related("teacher", "receiver", "district")


def leaves_in_turn(row: TeacherLeave) -> list[TeacherLeave]:
    """Leaves that were arranged later and have students of this one, or of one of those, in their order."""
    later = TeacherLeave.objects.filter(district=row.district_id, handed__gt=row.handed).order_by("handed")
    students = {one.pk for one in row.students.all()}
    found = []
    for one in later.select_related("teacher", "receiver", "district").prefetch_related("students"):
        mine = {each.pk for each in one.students.all()}
        if mine & students:
            found.append(one)
            students |= mine
    return found


def students_still(viewer: Person, teacher: Person, day: dt.date) -> QuerySet[Student]:
    """Students whom the teacher has or serves on a day or later, but for those whom a leave gives to somebody then.

    These are the teacher's again after it, and so are their services.
    """
    rows = students_to_hand_over(teacher, day).values("pk")
    lent = TeacherLeave.objects.filter(Q(last_day=None) | Q(last_day__gte=day), teacher=teacher, first_day__lte=day)
    lent = lent.exclude(students=None)
    found = Student.objects.changeable_by(viewer).filter(pk__in=rows).exclude(pk__in=lent.values("students"))
    return found.select_related("building").distinct()


def leaving_of(viewer: Person, teacher: Person, first_day: dt.date) -> Leaving:
    """What waits and stands. Raises ``ApplicationError`` (404) for a teacher who isn't the viewer's to plan."""
    return Leaving(
        teacher,
        first_day,
        tuple(_before(viewer, teacher, first_day)),
        tuple(_after(teacher, first_day, today_of(viewer))),
        students_still(viewer, teacher, first_day).count(),
        tuple(leaves(viewer).filter(teacher=teacher)),
    )


def _before(viewer: Person, teacher: Person, first_day: dt.date) -> Iterator[LeavingWait]:
    found = attention(viewer, teacher, today_of(viewer))
    for kind, (about, one, several) in BEFORE.items():
        if count := _things(found, kind, first_day):
            yield LeavingWait(about, count, one if count == 1 else several)
    for month in _open_months(teacher, first_day):
        yield LeavingWait(Waits.MONTH, 1, f"The log of {month:%B %Y} isn't closed", month)
    for month in _unsent_months(teacher, first_day):
        yield LeavingWait(Waits.VOUCHER, 1, f"Drives of {month:%B %Y} are on no voucher", month)


def _things(found: Attention, kind: Kind, first_day: dt.date) -> int:
    """How many; reports that are due later are somebody else's. What is missed already waits whenever it is due."""
    return sum(row.things for row in found.of(kind) if kind is not Kind.REPORT or row.due < first_day)


def _open_months(teacher: Person, first_day: dt.date) -> list[dt.date]:
    """The last months in which something is logged and that aren't closed, the oldest first."""
    mine = DeliveryEntry.objects.filter(Q(provider=teacher) | Q(provider=None, service_line__provider=teacher))
    logged = mine.filter(date__lt=first_day).dates("date", "month", order="DESC")[:MONTHS_BACK]
    closed = LogMonth.objects.filter(teacher=teacher, status=LogMonth.Status.CLOSED)
    done = set(closed.values_list("month", flat=True))
    return sorted(month for month in logged if month not in done)


def _unsent_months(teacher: Person, first_day: dt.date) -> list[dt.date]:
    """The months of drives that are on no voucher that stands, the oldest first."""
    driven = Trip.objects.filter(teacher=teacher, status=Trip.Status.CONFIRMED, date__lt=first_day)
    sent = set(Voucher.objects.filter(teacher=teacher).standing().values_list("month", flat=True))
    return [month for month in driven.dates("date", "month") if month not in sent]


def _after(teacher: Person, first_day: dt.date, today: dt.date) -> Iterator[LeavingWait]:
    since = f"from {date_words(first_day)} on"
    weeks = WeekPlan.objects.filter(teacher=teacher, last_date__gte=first_day)
    if count := weeks.filter(status=WeekPlan.Status.PUBLISHED).count():
        words = "week is published" if count == 1 else "weeks are published"
        yield LeavingWait(Waits.WEEK, count, f"{words} {since}: plan them again for whoever has the students then")
    if count := weeks.filter(status=WeekPlan.Status.DRAFT).count():
        yield LeavingWait(Waits.DRAFT, count, "draft isn't published" if count == 1 else "drafts aren't published")
    if count := _booked(teacher, first_day, today):
        words = "make-up is booked" if count == 1 else "make-ups are booked"
        yield LeavingWait(Waits.BOOKED, count, f"{words} {since}")


def _booked(teacher: Person, first_day: dt.date, today: dt.date) -> int:
    """Sessions of make-ups on the day or later."""
    lines = [line.pk for line in lines_of(teacher, today, first_day)]
    several = booked_make_ups(lines, today).values()
    return len({(one.date, one.uid) for row in several for one in row if one.date >= first_day})
