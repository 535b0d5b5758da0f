"""Which counts are a district's present ones."""

import datetime as dt

from django.db.models import Exists, Max, OuterRef, QuerySet

from accounts.models import Person
from schedule.overview.models import TeacherCount

STALE = dt.timedelta(days=7)
"""Counts of a teacher that are so much older than the latest are of somebody who has left, and not in the sums."""


def latest_counts(viewer: Person) -> QuerySet[TeacherCount]:
    """The latest count of each teacher whom the viewer answers for, without those who have left. Two queries."""
    rows = TeacherCount.objects.visible_to(viewer)
    newest = rows.aggregate(last=Max("last_date"))["last"]
    if newest is None:
        return rows.none()
    later = rows.filter(teacher=OuterRef("teacher"), monday__gt=OuterRef("monday"))
    return rows.filter(last_date__gt=newest - STALE).exclude(Exists(later))
