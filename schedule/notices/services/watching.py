"""Which teachers' days may have changed: noted in the transaction of the change, compared within a minute.

A note costs one statement and names nothing. Comparing finds out whether anything differs, so that a note too many
is no message, and a lost job no lost message: each minute whoever is behind is compared.
"""

import datetime as dt

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from accounts.models import Person
from jobs.services import job_add
from schedule.notices.models import WatchedTeacher
from schedule.weeks.models import WeekPlan

KIND = "compare_days"
BACK = dt.timedelta(days=7)
LOOKED_AT = dt.timedelta(hours=6)


def teacher_touch(*, teacher_id: int) -> None:
    """Note that a teacher's days may have changed; call it in the transaction of the change."""
    row, created = WatchedTeacher.objects.get_or_create(teacher_id=teacher_id)
    if not created:
        WatchedTeacher.objects.filter(pk=row.pk).update(touched=F("touched") + 1)


def district_touch(*, district_id: int) -> None:
    """Note that the days of all of a district's teachers may have changed."""
    WatchedTeacher.objects.filter(teacher__district=district_id).update(touched=F("touched") + 1)


def compare_ask_due() -> None:
    """Have the days compared of whoever is behind: a job may have been lost, or a change come while it ran."""
    _watch_new()
    for district_id in watched_behind(timezone.now()).values_list("teacher__district", flat=True).distinct():
        if district_id is not None:
            with transaction.atomic():
                payload = {"district": district_id}
                job_add(kind=KIND, payload=payload, district=district_id, unique_key=f"{KIND}:{district_id}")


def _watch_new() -> None:
    """Watch every teacher with a week in force, those of before there were messages too."""
    since = timezone.now().date() - BACK
    teachers = WeekPlan.objects.filter(status=WeekPlan.Status.PUBLISHED, monday__gte=since).values("teacher")
    missing = Person.objects.filter(pk__in=teachers, watched=None).values_list("pk", flat=True)
    WatchedTeacher.objects.bulk_create([WatchedTeacher(teacher_id=pk) for pk in missing], ignore_conflicts=True)


def watched_behind(moment: dt.datetime) -> QuerySet[WatchedTeacher]:
    """Active teachers whose days may have changed since they were compared, or weren't looked at for hours.

    The second, so that of each day it is known how it was before it came within 24 hours.
    """
    late = Q(compared_at=None) | Q(compared_at__lt=moment - LOOKED_AT)
    rows = WatchedTeacher.objects.filter(~Q(touched=F("compared")) | late, teacher__is_active=True)
    return rows.order_by("pk")
