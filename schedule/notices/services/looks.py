"""That somebody saw what changed, and that they didn't after all."""

import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, permission_require
from schedule.notices.models import Look
from schedule.notices.services.settings import HEAR
from schedule.weeks.selectors.pages import teachers_for

MOST_DATES = 31


def changes_seen(*, actor: Person, teacher: Person, dates: Iterable[dt.date], until: dt.datetime) -> None:
    """The person saw what changed of these dates up to a moment; what came after it stays unseen."""
    now = timezone.now()
    with transaction.atomic():
        for date in _dates(actor, teacher, dates):
            row = Look.objects.select_for_update().filter(person=actor, teacher=teacher, date=date).first()
            # A page that lay open on another device says less than what was said since.
            at = max(min(until, now), row.at) if row is not None else min(until, now)
            values = {"at": at, "before": row.at if row is not None else None, "said_at": now}
            Look.objects.update_or_create(person=actor, teacher=teacher, date=date, defaults=values)


def changes_unseen(*, actor: Person, teacher: Person, dates: Iterable[dt.date]) -> None:
    """Take the last "seen" of these dates back."""
    with transaction.atomic():
        for row in Look.objects.select_for_update().filter(
            person=actor, teacher=teacher, date__in=_dates(actor, teacher, dates)
        ):
            if row.before is None:
                row.delete()
            else:
                row.at, row.before = row.before, None
                row.said_at = row.at
                row.save()


def _dates(actor: Person, teacher: Person, dates: Iterable[dt.date]) -> list[dt.date]:
    """At most a month, of a teacher whom the person may ask for."""
    permission_require(actor, HEAR)
    if not teachers_for(actor).filter(pk=teacher.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    wanted = sorted(set(dates))
    if len(wanted) > MOST_DATES:
        raise ApplicationError(f"At most {MOST_DATES} dates at once.", code="too_many")
    return wanted
