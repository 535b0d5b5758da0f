"""What falls out by something that happened is logged as missed: on its days, once, and anew where that changes.

Logged by whoever said it, under the happening's sending, by which it is withdrawn again.
"""

import datetime as dt
import uuid
from collections.abc import Callable

from django.db import transaction

from accounts.models import Person
from accounts.selectors import today_in
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.selectors.sendings import sending_get
from caseload.delivery.services.undo import sending_undo
from schedule.calendar.happened import OF_TEACHER, HappeningKind
from schedule.calendar.models import Happening
from schedule.happenings.reasons import REASON_OF
from schedule.happenings.selectors import fallen_out
from schedule.log.services import sessions_mark
from schedule.weeks.models import WeekPlan

WAITS_AGAIN = (
    "{count} entries of the log say missed because the teacher is away, and are taken back: somebody stands in."
)
MISSED = "{count} entries of the log will say missed because the teacher is away: nobody stands in."


def happening_log(*, row: Happening, now: dt.datetime | None = None) -> int:
    """Log the sessions that fell out by it up to today, as whoever said it; returns to how many dates.

    Sessions that are logged stay as they are. Nothing is logged twice, however often it is asked.
    """
    today = _today(row, now)
    first = row.first_date if row.logged_until is None else row.logged_until + dt.timedelta(days=1)
    last, count = min(row.last_date, today), 0
    while first <= last:
        count += bool(_date_log(row, first, now))
        row.logged_until, first = first, first + dt.timedelta(days=1)
    if row.logged_until is not None:
        Happening.objects.filter(pk=row.pk).update(logged_until=row.logged_until)
    return count


def happening_log_week(*, row: Happening, week: WeekPlan, today: dt.date) -> None:
    """Log what falls out in a version that came into force, of the days that were logged before."""
    if row.logged_until is None:
        return
    last = min(row.last_date, row.logged_until, week.last_date, today)
    date = max(row.first_date, week.monday)
    while date <= last:
        _date_log(row, date, week=week)
        date += dt.timedelta(days=1)


def happening_log_again(*, row: Happening, now: dt.datetime | None = None) -> None:
    """Log it anew, because other sessions fall out by it now: somebody stands in, or doesn't anymore.

    What was logged by it and wasn't changed since is withdrawn first. Call it in the transaction of the change.
    """
    if row.logged_until is None:
        return
    happening_log_withdraw(row=row, now=now)
    row.sending, row.logged_until = uuid.uuid4(), None
    row.save(update_fields=["sending", "logged_until"])
    happening_log(row=row, now=now)


def absences_log_again(*, teacher: Person, first: dt.date, last: dt.date, now: dt.datetime | None = None) -> None:
    """The same of all by which a teacher is away or late on these dates, because somebody else stands in then."""
    rows = Happening.objects.standing().filter(kind__in=OF_TEACHER, teacher=teacher)
    for row in rows.filter(first_date__lte=last, last_date__gte=first):
        happening_log_again(row=row, now=now)


def cover_effects_told(actor: Person, act: Callable[[], object]) -> list[str]:
    """What a change of who stands in does to what absences logged, in sentences; nothing of it is saved."""
    with transaction.atomic():
        before = _logged_missed(actor)
        act()
        after = _logged_missed(actor)
        transaction.set_rollback(True)
    back, out = len(before - after), len(after - before)
    told = [WAITS_AGAIN.format(count=back)] if back else []
    return [*told, MISSED.format(count=out)] if out else told


def _logged_missed(actor: Person) -> set[tuple[uuid.UUID | None, int]]:
    """Session and student of each entry that an absence of the district's teachers logged and that stands."""
    rows = Happening.objects.standing().filter(district=actor.district, kind__in=OF_TEACHER)
    logged = DeliveryVersion.objects.current().filter(
        sending__in=list(rows.values_list("sending", flat=True)), delivered_minutes__isnull=False
    )
    return set(logged.values_list("entry__session_uid", "entry__student_id"))


def happening_log_withdraw(*, row: Happening, now: dt.datetime | None = None) -> None:
    """Withdraw what was logged by it and still stands as it was logged."""
    found = sending_get(row.said_by, row.sending)
    if found is not None and found.standing:
        sending_undo(actor=row.said_by, sending=row.sending, keep_changed=True, now=now)


def happenings_log_due() -> int:
    """Log what fell out on days that have come since it was said; returns of how many happenings."""
    found = 0
    due = Happening.objects.standing().select_related("district", "said_by", "said_by__district")
    for row in due.filter(said_by__is_active=True):
        last = row.first_date - dt.timedelta(days=1) if row.logged_until is None else row.logged_until
        if last < min(row.last_date, _today(row)):
            with transaction.atomic():
                found += bool(happening_log(row=row))
    return found


def _date_log(row: Happening, date: dt.date, now: dt.datetime | None = None, week: WeekPlan | None = None) -> int:
    """Log what waits on one date; returns how many sessions. A version has client ids of its own."""
    marked = sessions_mark(
        actor=row.said_by,
        sessions=fallen_out(row, date, now, week),
        reason=REASON_OF[HappeningKind(row.kind)],
        client_id=row.sending if week is None else uuid.uuid5(row.sending, f"week/{week.pk}"),
        sending=row.sending,
        now=now,
    )
    return marked.sessions


def _today(row: Happening, now: dt.datetime | None = None) -> dt.date:
    """The date where the district is."""
    return today_in(row.district, now)
