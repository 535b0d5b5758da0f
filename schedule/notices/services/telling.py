"""What changed of the next 24 hours, told at once; and tomorrow, told in the evening.

What is told and that it was told are written in one transaction with the row of the teacher locked: of two workers
the second finds nothing left to tell.
"""

import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from accounts.models import AuditEntry, District, Person
from schedule.notices.day_changes import KnownDay, day_from_json, day_to_json
from schedule.notices.models import EarlierDay, Look, Notice, ToldDate, WatchedTeacher
from schedule.notices.selectors.days import SeenDate, known_days
from schedule.notices.selectors.hearers import Hearer, hearers_of, notice_settings_of
from schedule.notices.selectors.students import NOTHING, names_shown, who_comes
from schedule.notices.services.outbox import notices_add
from schedule.notices.services.watching import watched_behind
from schedule.notices.students import Who
from schedule.notices.wording import NOBODY, Message, changes_message, evening_message

KEPT = dt.timedelta(days=30)
SOON = dt.timedelta(hours=24)
# Days of which is known how they are before they come within 24 hours, and of which the week says what changed.
AHEAD = 8
DAYS_FOLLOW = (
    "accounts.substitution",
    "caseload.deliveryentry",
    "caseload.student",
    "schedule.calendarentry",
    "schedule.calendarsource",
    "schedule.happening",
    "schedule.importbatch",
    "schedule.termplan",
    "schedule.weekplan",
)
"""Tables as the audit names them: whoever changed the days changed one of these."""


def district_compare(*, district: District, now: dt.datetime | None = None) -> int:
    """Compare the days of every teacher who is behind; returns how many messages were written."""
    moment = now or timezone.now()
    behind = watched_behind(moment).filter(teacher__district=district).values_list("pk", flat=True)
    return sum(len(teacher_compare(teacher_id=pk, now=moment)) for pk in behind)


def teacher_compare(*, teacher_id: int, now: dt.datetime) -> list[Notice]:
    """Compare a teacher's next days with what was last told of them, and write what differs within 24 hours."""
    with transaction.atomic():
        watched = WatchedTeacher.objects.select_for_update().get(teacher=teacher_id)
        teacher = Person.objects.select_related("district").get(pk=teacher_id)
        local = _local(teacher, now)
        dates = [local.date() + dt.timedelta(days=n) for n in range(AHEAD)]
        found = known_days(teacher, dates)
        told = {row.date: row for row in ToldDate.objects.filter(teacher=teacher, date__in=dates)}
        made: list[Notice] = []
        for date in dates:
            made += _day_compare(teacher, date, found[date], told.get(date), local, watched.compared_at)
        for kept in (ToldDate, EarlierDay, Look):
            kept.objects.filter(teacher=teacher, date__lt=local.date() - KEPT).delete()
        WatchedTeacher.objects.filter(pk=watched.pk).update(compared=watched.touched, compared_at=now)
    return made


def _day_compare(
    teacher: Person,
    date: dt.date,
    seen: SeenDate,
    told: ToldDate | None,
    local: dt.datetime,
    compared_at: dt.datetime | None,
) -> list[Notice]:
    """One date: what differs is told, and from then on known."""
    if told is None:
        # Seen for the first time. What it was before nobody wrote down, so there is nothing to compare it with.
        ToldDate.objects.create(teacher=teacher, date=date, content=day_to_json(seen.day), at=local)
        return []
    was = day_from_json(told.content)
    if was == seen.day:
        return []
    made = []
    by = _changed_by(teacher, compared_at or told.at)
    alone = next(iter(by)) if len(by) == 1 else None
    EarlierDay.objects.create(teacher=teacher, date=date, content=told.content, until=local, changed_by_id=alone)
    if _is_soon(date, (was, seen.day), local):
        who = _who(teacher, local, (was, seen.day))
        for one in hearers_of(teacher, date, (was, seen.day)):
            told_by_themselves = one.person is not None and by == {one.person.pk}
            if one.hears_at_once and not told_by_themselves:
                made += _told(teacher, date, one, _message(teacher, date, one, (was, seen.day), local, who), local)
    told.content, told.at = day_to_json(seen.day), local
    told.save()
    return made


def _is_soon(date: dt.date, days: Iterable[KnownDay], local: dt.datetime) -> bool:
    """Whether any of a date's sessions, as they were or are, begins within 24 hours or is under way."""
    midnight = dt.datetime.combine(date, dt.time(), tzinfo=local.tzinfo)
    # Minutes of the clock on the wall: on a day of 23 or 25 hours the sum of an aware time is the wall's.
    starts = [midnight + dt.timedelta(minutes=one.start) for day in days for one in day.sessions]
    ends = [midnight + dt.timedelta(minutes=one.end) for day in days for one in day.sessions]
    return any(start <= local + SOON for start in starts) and any(end > local for end in ends)


def _changed_by(teacher: Person, since: dt.datetime) -> set[int | None]:
    """Who changed anything since that days follow from: somebody alone needs no message of their own deed."""
    rows = AuditEntry.objects.filter(district=teacher.district, at__gte=since, model__in=DAYS_FOLLOW)
    return set(rows.values_list("actor", flat=True))


def _message(
    teacher: Person, date: dt.date, hearer: Hearer, days: tuple[KnownDay, KnownDay], local: dt.datetime, who: Who
) -> Message | None:
    before, after = map(hearer.part, days)
    school = ""
    if hearer.buildings is not None:
        school = ", ".join(sorted({one.school for one in (*before.sessions, *after.sessions)}))
    return changes_message(before, after, date=date, today=local.date(), teacher=str(teacher), school=school,
                           who=who if hearer.may_know_students else NOBODY)  # fmt: skip


def _who(teacher: Person, local: dt.datetime, days: Iterable[KnownDay]) -> Who:
    """Who comes to which session, where the district lets any way of telling name them."""
    if teacher.district is None or names_shown(teacher.district, local.date()) == NOTHING:
        return NOBODY
    return who_comes(one.uid for day in days for one in day.sessions)


def _told(
    teacher: Person, date: dt.date, hearer: Hearer, message: Message | None, local: dt.datetime
) -> list[Notice]:
    if message is None:
        return []
    key = f"change:{teacher.pk}:{date}:{hearer.key}:{local.timestamp():.6f}"
    return notices_add(
        key=key, hearer=hearer, message=message, district=teacher.district, teacher=teacher, date=date, now=local,
        path=_path(teacher, date, hearer),
    )  # fmt: skip


def _path(teacher: Person, date: dt.date, hearer: Hearer) -> str:
    """The day as the hearer opens it; whoever has no sign-in opens nothing."""
    if hearer.person is None:
        return ""
    whose = "" if hearer.person.pk == teacher.pk else f"?teacher={teacher.pk}"
    return reverse("day_of", args=[date]) + whose


# ---- in the evening --------------------------------------------------------------------------------------


def evenings_tell_due(*, now: dt.datetime | None = None) -> int:
    """Tell tomorrow of every teacher for whom the evening has come; returns how many messages were written."""
    moment, count = now or timezone.now(), 0
    for district in District.objects.filter(pk__in=WatchedTeacher.objects.values("teacher__district")):
        local = moment.astimezone(ZoneInfo(district.time_zone))
        if local.time() >= notice_settings_of(district).evening_at:
            count += _district_evening(district, local)
    return count


def _district_evening(district: District, local: dt.datetime) -> int:
    tomorrow, count = local.date() + dt.timedelta(days=1), 0
    rows = WatchedTeacher.objects.filter(teacher__district=district, teacher__is_active=True)
    for pk in rows.exclude(told_until__gte=tomorrow).values_list("pk", flat=True):
        count += teacher_evening(teacher_id=pk, tomorrow=tomorrow, local=local)
    return count


def teacher_evening(*, teacher_id: int, tomorrow: dt.date, local: dt.datetime) -> int:
    """Tell one teacher's tomorrow, once."""
    with transaction.atomic():
        watched = WatchedTeacher.objects.select_for_update().get(teacher=teacher_id)
        if watched.told_until is not None and watched.told_until >= tomorrow:
            return 0
        teacher = Person.objects.select_related("district").get(pk=teacher_id)
        seen = known_days(teacher, [tomorrow])[tomorrow]
        hearers = [one for one in hearers_of(teacher, tomorrow, [seen.day]) if one.hears_in_the_evening]
        who = _who(teacher, local, [seen.day])
        count = sum(_evening_told(teacher, tomorrow, one, seen, local, who) for one in hearers)
        WatchedTeacher.objects.filter(pk=watched.pk).update(told_until=tomorrow)
    return count


def _evening_told(
    teacher: Person, tomorrow: dt.date, hearer: Hearer, seen: SeenDate, local: dt.datetime, who: Who
) -> int:
    """The evening's message to one person, if there is one; returns how many were written."""
    part = hearer.part(seen.day)
    odd = [one for one in seen.unusual if one in part.sessions]
    known = who if hearer.may_know_students else NOBODY
    message = evening_message(part, odd, date=tomorrow, teacher=str(teacher), who=known)
    if message is None:
        return 0
    made = notices_add(
        key=f"evening:{teacher.pk}:{tomorrow}:{hearer.key}",
        hearer=hearer,
        message=message,
        district=teacher.district,
        teacher=teacher,
        date=tomorrow,
        now=local,
        path=_path(teacher, tomorrow, hearer),
    )
    return len(made)


def _local(teacher: Person, now: dt.datetime) -> dt.datetime:
    zone = teacher.district.time_zone if teacher.district is not None else "UTC"
    return now.astimezone(ZoneInfo(zone))
