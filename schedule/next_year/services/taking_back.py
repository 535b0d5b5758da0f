"""Taking a started year back: all that starting wrote goes, or nothing, and the draft is there to be worked on."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction
from django.db.models import Model

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write, permission_require, record_remove
from caseload.delivery.models import DeliveryEntry
from caseload.plans.models import Enrollment, Student
from caseload.plans.services import enrollment_take_back, school_class_save, student_leave
from schedule.calendar.models import CalendarEntry, MarkingPeriod, SchoolYear
from schedule.calendar.services.records import calendar_entry_delete
from schedule.long_steps.services import Report, nobody_waits
from schedule.next_year.models import NextYear
from schedule.next_year.services.drafting import PERMISSION
from schedule.next_year.services.starting import as_written

CHANGED_SINCE = "{what} was changed since the year was started. Change it back first, or go on with the year."
OF_DAY = ("title", "kind", "building_id", "first_date", "last_date", "bell_schedule_id", "closes_at")
OF_PERIOD = ("name", "first_day", "last_day")


def next_year_take_back(*, actor: Person, row: NextYear, report: Report = nobody_waits) -> NextYear:
    """Take back all that starting wrote, or nothing; the draft is there to be worked on again.

    Raises ``ApplicationError``: ``nothing_to_undo``, ``logged`` once a session of that year is logged,
    ``changed_since`` where a student, a class or something of the calendar that it wrote was changed by hand.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        held = NextYear.objects.select_for_update().get(pk=row.pk)
        _take_back_require(held)
        moves, leaves = held.written["moves"], held.written["leaves"]
        for done, told in enumerate(moves):
            report(done)
            if not _is_erased(told):
                enrollment_take_back(actor=actor, row=_unchanged_move(told))
        for done, told in enumerate(leaves, len(moves)):
            report(done)
            if not _is_erased(told):
                _stay_again(actor, told)
        _classes_back(actor, held)
        _calendar_back(actor, held)
        held.written, held.started_at, held.started_by = {}, None, None
        held.save(update_fields=["written", "started_at", "started_by"])
        audit_write(actor=actor, district=held.district, action="next_year_take_back", row=held)
    return held


def next_year_may_go_back(*, actor: Person, row: NextYear) -> int:
    """How many students taking back would write. Raises ``ApplicationError``: 403, or as `next_year_take_back`."""
    permission_require(actor, PERMISSION)
    _take_back_require(row)
    return len(row.written["moves"]) + len(row.written["leaves"])


def _take_back_require(row: NextYear) -> None:
    if not row.is_started:
        raise ApplicationError("This year isn't started.", code="nothing_to_undo")
    logged = DeliveryEntry.objects.filter(student__district=row.district_id, date__gte=row.first_day)
    first = logged.order_by("date").values_list("date", flat=True).first()
    if first is not None:
        raise ApplicationError(
            f"A session of {date_words(first)} is logged, so this year can't be taken back. Correct what is wrong "
            "student by student.",
            code="logged",
        )
    if NextYear.objects.filter(district=row.district_id, started_at=None).exists():
        raise ApplicationError("Another next year is being worked on. Drop that first.", code="another_draft")


def _is_erased(told: Mapping[str, Any]) -> bool:
    """Whether all of the student was erased since: there is nothing to take back."""
    return "student" in told and not Student.objects.filter(pk=told["student"]).exists()


def _unchanged_move(told: Mapping[str, Any]) -> Enrollment:
    row = Enrollment.objects.select_related("student__district", "building").filter(pk=told["id"]).first()
    if row is None or {**as_written(row), **told} != as_written(row):
        raise ApplicationError(CHANGED_SINCE.format(what="Where a student is"), code="changed_since")
    return row


def _stay_again(actor: Person, told: Mapping[str, Any]) -> None:
    row = Enrollment.objects.select_related("student__district").filter(pk=told["id"]).first()
    if row is None or row.last_day is None or row.last_day.isoformat() != told["after"]:
        raise ApplicationError(CHANGED_SINCE.format(what="A student's last day"), code="changed_since")
    before = dt.date.fromisoformat(told["before"]) if told["before"] else None
    student_leave(actor=actor, student=row.student, last_day=before)


def _calendar_back(actor: Person, row: NextYear) -> None:
    """The days and periods that starting wrote, and the year if it made it and nothing was added to it since."""
    days = CalendarEntry.objects.filter(pk__in=row.written["days"], happening=None)
    for entry in _unchanged(days, row.days.values_list(*OF_DAY), OF_DAY, "The special day"):
        calendar_entry_delete(actor=actor, row=entry)
    periods = MarkingPeriod.objects.filter(pk__in=row.written["periods"])
    for period in _unchanged(periods, row.periods.values_list(*OF_PERIOD), OF_PERIOD, "The marking period"):
        record_remove(actor=actor, row=period, action="next_year_take_back", permission=PERMISSION)
    year = SchoolYear.objects.filter(pk=row.written["year"]).first()
    if year is None or not row.written["year_made"]:
        return
    if year.marking_periods.exists() or (year.first_day, year.last_day) != (row.first_day, row.last_day):
        raise ApplicationError(CHANGED_SINCE.format(what=f"The school year {year}"), code="changed_since")
    record_remove(actor=actor, row=year, action="next_year_take_back", permission=PERMISSION)


def _unchanged[M: Model](
    rows: Iterable[M], said: Iterable[tuple[Any, ...]], names: Sequence[str], noun: str
) -> list[M]:
    """Rows of the calendar as the draft, which nobody changes meanwhile, says them; else ``changed_since``."""
    found, known = list(rows), set(said)
    for one in found:
        if tuple(getattr(one, name) for name in names) not in known:
            raise ApplicationError(CHANGED_SINCE.format(what=f"{noun} {one}"), code="changed_since")
    return found


def _classes_back(actor: Person, row: NextYear) -> None:
    classes = {
        one.school_class_id: one.school_class for one in row.classes.select_related("school_class__building")
    }
    for told in row.written["classes"] or ():
        room = classes.get(told["id"])
        if room is None:
            continue
        if {name: getattr(room, name) for name in told["after"]} != told["after"]:
            raise ApplicationError(CHANGED_SINCE.format(what=f"The class {room}"), code="changed_since")
        school_class_save(actor=actor, row=room, values=told["before"])
