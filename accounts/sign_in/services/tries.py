"""Wrong tries to sign in, as long as they count (accounts.sign_in.limits): written down, counted, forgotten."""

import datetime as dt

from axes.models import AccessFailureLog, AccessLog
from django.db.models import QuerySet

from accounts.sign_in.limits import BY_ADDRESS, BY_NAME, BY_NAME_LONG, LONGEST, TOGETHER, Limit

KNOWN, OTHER = "known", "other"
"""What kind of browser it was: one in which this person has signed in before, or not. What it says of itself isn't
kept."""
type Failures = QuerySet[AccessFailureLog]


def refused_until(name: str, address: str | None, *, known: bool, now: dt.datetime) -> dt.datetime | None:
    """Until when signing in under a name from an address is refused; None if it isn't."""
    rows = AccessFailureLog.objects.filter(user_agent=KNOWN if known else OTHER)
    named = rows.filter(username=name)
    together = named.filter(ip_address=address)
    success = AccessLog.objects.filter(username=name, ip_address=address).order_by("-attempt_time").first()
    if success is not None:
        together = together.filter(attempt_time__gt=success.attempt_time)
    found = [_until(together, TOGETHER, now), _until(named, BY_NAME, now), _until(named, BY_NAME_LONG, now)]
    if not known:
        found.append(_until(rows.filter(ip_address=address), BY_ADDRESS, now))
    return max((one for one in found if one is not None), default=None)


def _until(rows: Failures, limit: Limit, now: dt.datetime) -> dt.datetime | None:
    recent = rows.filter(attempt_time__gt=now - limit.within).order_by("-attempt_time")
    return limit.until(list(recent.values_list("attempt_time", flat=True)[: limit.tries]))


def failure_note(*, name: str, address: str | None, known: bool, now: dt.datetime) -> None:
    """Count a wrong try, and forget those that count no longer."""
    AccessFailureLog.objects.filter(attempt_time__lte=now - LONGEST).delete()
    kind = KNOWN if known else OTHER
    row = AccessFailureLog.objects.create(username=name[:255], ip_address=address, user_agent=kind)
    AccessFailureLog.objects.filter(pk=row.pk).update(attempt_time=now)


def success_note(*, name: str, address: str | None, now: dt.datetime) -> None:
    """Somebody got in: what was mistyped under this name from this address before doesn't count anymore."""
    rows = AccessLog.objects.filter(username=name, ip_address=address)
    if not rows.update(attempt_time=now):
        row = AccessLog.objects.create(username=name, ip_address=address)
        AccessLog.objects.filter(pk=row.pk).update(attempt_time=now)


def failures_forget(*, name: str | None = None, address: str | None = None) -> int:
    """Take the tries under a name, or from an address, for never made; returns how many."""
    rows = AccessFailureLog.objects.all()
    rows = rows.filter(username=name) if name is not None else rows
    rows = rows.filter(ip_address=address) if address is not None else rows
    found: int = rows.delete()[0]
    return found
