"""Which drafts others are at work on."""

import datetime as dt
from collections.abc import Collection

from django.db.models import Max
from django.utils import timezone

from accounts.models import Person
from schedule.weeks.models import WeekPlan

STILL_AT_WORK = dt.timedelta(days=14)
"""How long after its last change a draft counts as one that somebody is at work on: common practice, no source."""


def drafts_under_way(teacher: Person, mondays: Collection[dt.date], now: dt.datetime | None = None) -> list[int]:
    """The drafts of these weeks that other teachers of the district are at work on, one of each at most.

    That is the newest of a teacher's, as long as it was changed in the last 14 days and after the week that is in
    force.
    """
    since = (now or timezone.now()) - STILL_AT_WORK
    rows = WeekPlan.objects.filter(district=teacher.district_id, monday__in=mondays).exclude(teacher=teacher)
    in_force = rows.filter(status=WeekPlan.Status.PUBLISHED).values_list("teacher", "monday", "published_at")
    last = {(whose, monday): max(at or since, since) for whose, monday, at in in_force}
    newest: dict[tuple[int, dt.date], int] = {}
    drafts = rows.filter(status=WeekPlan.Status.DRAFT).annotate(edited=Max("revisions__created_at")).order_by("pk")
    for pk, whose, monday, made, edited in drafts.values_list("pk", "teacher", "monday", "created_at", "edited"):
        at = max(made, edited or made)
        if at > last.get((whose, monday), since):
            last[whose, monday], newest[whose, monday] = at, pk
    return sorted(newest.values())
