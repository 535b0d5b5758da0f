"""What was logged because something took a session follows the week: what is held after all waits again."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import QuerySet

from accounts.models import Substitution
from accounts.people.signals import CoveredSpan, substitution_changed
from accounts.selectors import today_in
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.services.undo import sending_undo
from schedule.calendar.models import Happening
from schedule.happenings.services.logged import absences_log_again, happening_log_week
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import AsHeld, as_held
from schedule.weeks.signals import week_in_force


def connect() -> None:
    """Listen to weeks that come into force, and to who stands in by what is entered under People."""
    week_in_force.connect(_follow, dispatch_uid="happenings.follow")
    substitution_changed.connect(_covered, dispatch_uid="happenings.covered")


def _follow(sender: type[WeekPlan], week: WeekPlan, **_told: Any) -> None:
    happenings_follow(week=week)


def _covered(sender: type[Substitution], spans: Iterable[CoveredSpan], **_told: Any) -> None:
    for one in spans:
        absences_log_again(teacher=one.teacher, first=one.first, last=one.last)


def happenings_follow(*, week: WeekPlan) -> None:
    """Take back what was logged of sessions that a new version holds after all, and log what falls out in it.

    As far as somebody changed neither since. Only of days up to today; the later ones are logged when they come.
    """
    today = today_in(week.district)
    standing = Happening.objects.standing().filter(
        district=week.district, first_date__lte=min(today, week.last_date), last_date__gte=week.monday
    )
    rows = list(standing.filter(said_by__is_active=True).select_related("said_by__district", "district"))
    if not rows:
        return
    sessions = PlannedSession.objects.filter(week=week, date__lte=today).select_related("week__teacher__district")
    _take_back_held(rows, sessions)
    for row in rows:
        happening_log_week(row=row, week=week, today=today)


def _take_back_held(rows: Iterable[Happening], sessions: QuerySet[PlannedSession]) -> None:
    planned = list(sessions)
    held = as_held([one.week.teacher for one in planned], planned)
    by_sending = {row.sending: row for row in rows}
    logged = DeliveryVersion.objects.current().filter(
        sending__in=by_sending, entry__session_uid__in=held, delivered_minutes__isnull=False
    )
    again: dict[uuid.UUID, set[int]] = defaultdict(set)
    for one in logged.select_related("entry"):
        if one.sending is not None and _is_held(held, one.entry.session_uid, one.entry.student_id):
            again[one.sending].add(one.entry_id)
    for sending, entries in again.items():
        sending_undo(actor=by_sending[sending].said_by, sending=sending, keep_changed=True, only=entries)


def _is_held(held: Mapping[uuid.UUID, AsHeld], uid: uuid.UUID | None, student: int) -> bool:
    """Whether a student's session takes place with the student."""
    found = held.get(uid) if uid is not None else None
    return found is not None and found.off is None and student not in found.without
