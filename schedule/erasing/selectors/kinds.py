"""Records of a district that aren't any one student's: which of them go up to a date, and which stay and why."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.db.models import PROTECT, Min, Model, Q, QuerySet

from accounts.models import AuditEntry, District, Person
from caseload.access.models import Access
from caseload.months.models import month_of
from caseload.plans.models import Plan, Student
from caseload.retention.schedule import ACCESSES, AUDIT, FEEDS, IMPORTS, JOBS, MESSAGES, MILEAGE, SIGN_INS
from jobs.models import Job
from schedule.erasing.listing import DISCLOSURE, IN_USE, UNPAID
from schedule.erasing.selectors.rows import Found, relations_to, walk
from schedule.imports.models import ImportBatch
from schedule.notices.models import EarlierDay, Look, Notice, ToldDate
from schedule.packet.models import PacketView
from schedule.reports.services import EXPORTED
from travel.mileage.models import Trip, Voucher

ONE_DAY = dt.timedelta(days=1)


@dataclass(slots=True)
class KindRows:
    """Keys of the rows that go, by table, and how many stay for which reason."""

    goes: Found = field(default_factory=dict)
    stays: dict[str, int] = field(default_factory=dict)

    def add(self, rows: QuerySet[Any]) -> None:
        """Rows that go, with all that hangs on them."""
        keys = set(rows.order_by().values_list("pk", flat=True))
        walk(rows.model, keys, self.goes)

    def stay(self, why: str, count: int) -> None:
        """So many stay."""
        if count:
            self.stays[why] = self.stays.get(why, 0) + count


@dataclass(frozen=True, slots=True)
class Reach:
    """A district and the last date that goes; `before` is the moment at which that date is over there."""

    district: District
    until: dt.date

    @property
    def before(self) -> dt.datetime:
        """Midnight after the date, in the district's time."""
        return dt.datetime.combine(self.until + ONE_DAY, dt.time(), ZoneInfo(self.district.time_zone))


def rows_of_kind(district: District, kind: str, until: dt.date) -> KindRows:
    """What of a kind happened on a date or before it, and goes or stays."""
    found = KindRows()
    COLLECTORS[kind](Reach(district, until), found)
    return found


def _accesses(reach: Reach, found: KindRows) -> None:
    _seen(reach, found, (Access.Kind.VIEW, Access.Kind.FILE))


def _feeds(reach: Reach, found: KindRows) -> None:
    _seen(reach, found, (Access.Kind.FEED_MADE, Access.Kind.FEED_FETCHED))
    found.add(PacketView.objects.filter(link__district=reach.district, seen_at__lt=reach.before))


def _seen(reach: Reach, found: KindRows, kinds: Iterable[str]) -> None:
    """A record of who saw what is kept as long as the records that it is about (34 CFR 99.32(a)(2)).

    One of a long list names no student: it stays as long as a student is on file who may have been in the list.
    """
    rows = Access.objects.filter(district=reach.district, kind__in=kinds, at__lt=reach.before)
    about = Q(students__isnull=False) | Q(count__gt=0)
    oldest = _oldest_record(reach.district)
    if oldest is not None:
        midnight = dt.datetime.combine(oldest, dt.time(), ZoneInfo(reach.district.time_zone))
        about = Q(students__isnull=False) | Q(count__gt=0, at__gte=midnight)
    stays = set(rows.filter(about).values_list("pk", flat=True))
    found.add(rows.exclude(pk__in=rows.filter(about).order_by().values("pk")))
    found.stay(DISCLOSURE, len(stays))


def _oldest_record(district: District) -> dt.date | None:
    """Since when the earliest student on file has a plan; None where somebody has none, and so no date.

    `date.max` where there is no student.
    """
    students = Student.objects.filter(district=district)
    if students.filter(plans__isnull=True).exists():
        return None
    found = Plan.objects.filter(student__in=students).aggregate(first=Min("start"))["first"]
    return found or dt.date.max


def _sign_ins(reach: Reach, found: KindRows) -> None:
    kinds = (Access.Kind.SIGNED_IN, Access.Kind.REFUSED, Access.Kind.TURNED_AWAY)
    found.add(Access.objects.filter(district=reach.district, kind__in=kinds, at__lt=reach.before))
    names = Person.objects.filter(district=reach.district).values("username")
    for model in (AccessLog, AccessAttempt, AccessFailureLog):
        found.add(model.objects.filter(username__in=names, attempt_time__lt=reach.before))


def _mileage(reach: Reach, found: KindRows) -> None:
    """A month of a person goes whole: once what was claimed is paid."""
    vouchers = Voucher.objects.filter(district=reach.district, month__lte=month_of(reach.until))
    paid = _paid_months(vouchers)
    over = {of for of in paid if _month_over(of[1], reach.until)}
    trips = Trip.objects.filter(district=reach.district, date__lte=reach.until)
    for rows, dated in ((vouchers, "month"), (trips, "date")):
        told = rows.order_by().values_list("pk", "teacher", dated)
        keys = {pk: (teacher, month_of(day)) for pk, teacher, day in told}
        walk(rows.model, {pk for pk, of in keys.items() if of in over}, found.goes)
        found.stay(UNPAID, sum(of not in paid for of in keys.values()))


def _paid_months(vouchers: QuerySet[Voucher]) -> set[tuple[int, dt.date]]:
    """Person and month of which something was paid, and nothing is open or on its way."""
    states: dict[tuple[int, dt.date], set[str]] = {}
    for teacher, month, status in vouchers.order_by().values_list("teacher", "month", "status"):
        states.setdefault((teacher, month), set()).add(status)
    settled = {Voucher.Status.PAID, Voucher.Status.RETURNED}
    return {of for of, told in states.items() if told <= settled and Voucher.Status.PAID in told}


def _month_over(month: dt.date, until: dt.date) -> bool:
    """Whether all of a month lies before the end of a date."""
    return month_of(until + ONE_DAY) > month


def _messages(reach: Reach, found: KindRows) -> None:
    found.add(Notice.objects.filter(district=reach.district, made_at__lt=reach.before))
    mine = {"teacher__district": reach.district}
    found.add(EarlierDay.objects.filter(**mine, until__lt=reach.before))
    found.add(ToldDate.objects.filter(**mine, at__lt=reach.before))
    found.add(Look.objects.filter(**mine, at__lt=reach.before))


def _audit(reach: Reach, found: KindRows) -> None:
    """That a file was made is a record of a disclosure, and stays with the records that were in it."""
    rows = AuditEntry.objects.filter(district=reach.district, at__lt=reach.before)
    found.add(rows.exclude(action=EXPORTED))
    found.stay(DISCLOSURE, rows.filter(action=EXPORTED).count())


def _jobs(reach: Reach, found: KindRows) -> None:
    states = (Job.State.DONE, Job.State.FAILED, Job.State.STOPPED)
    rows = Job.objects.filter(district_number=reach.district.pk, state__in=states, ended_at__lt=reach.before)
    used: set[Any] = set()
    for relation in relations_to(Job):
        if relation.on_delete is PROTECT:
            held: QuerySet[Model] = relation.related_model._meta.base_manager.filter(
                **{f"{relation.field.name}__in": rows}
            )
            used |= set(held.values_list(relation.field.attname, flat=True))
    keys = set(rows.values_list("pk", flat=True))
    walk(Job, keys - used, found.goes)
    found.stay(IN_USE, len(used))


def _imports(reach: Reach, found: KindRows) -> None:
    rows = ImportBatch.objects.filter(district=reach.district, created_at__lt=reach.before)
    found.add(rows.exclude(state__in=(ImportBatch.State.CHECKING, ImportBatch.State.SAVING)))


COLLECTORS: dict[str, Callable[[Reach, KindRows], None]] = {
    ACCESSES: _accesses,
    SIGN_INS: _sign_ins,
    FEEDS: _feeds,
    MILEAGE: _mileage,
    MESSAGES: _messages,
    AUDIT: _audit,
    JOBS: _jobs,
    IMPORTS: _imports,
}
