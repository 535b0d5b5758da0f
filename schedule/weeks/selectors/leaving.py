"""Who has left: teachers after their last day of work, and sessions whose students are all gone from there."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q

from accounts.models import Person, Substitution
from caseload.plans.enrollment.selectors import stays_by_student
from caseload.plans.enrollments import Stay
from caseload.plans.models import ServiceLine
from schedule.weeks.models import SessionAttendee


def days_after_leaving(teacher: Person, dates: Iterable[dt.date]) -> frozenset[dt.date]:
    """Those of the dates after the teacher's last day on which nobody stands in."""
    after = {date for date in dates if teacher.has_left(date)}
    if not after:
        return frozenset()
    covers = Substitution.objects.filter(teacher=teacher, last_date__gte=min(after), first_date__lte=max(after))
    spans = list(covers.values_list("first_date", "last_date"))
    return frozenset(date for date in after if not any(first <= date <= last for first, last in spans))


def teacher_gone(teacher: str, date: str) -> Q:
    """The same as a condition on rows, by the paths of the teacher and of the date."""
    covered = Substitution.objects.filter(
        teacher=OuterRef(teacher), first_date__lte=OuterRef(date), last_date__gte=OuterRef(date)
    )
    return Q(**{f"{teacher}__last_day__isnull": False, f"{teacher}__last_day__lt": F(date)}) & Q(~Exists(covered))


def sessions_off_for_good(dates: Mapping[UUID, dt.date]) -> frozenset[str]:
    """Sessions, by their uid, whose students have left or which another teacher gives by their date."""
    return sessions_of_left(dates.items()) | sessions_handed_over(dates.items())


def sessions_of_left(sessions: Iterable[tuple[UUID, dt.date]]) -> frozenset[str]:
    """Sessions, by their uid, none of whose students is at their building any more by the session's date.

    Students have left the district, moved to another school, or their program there is over. At most three queries.
    """
    dates = dict(sessions)
    if not dates:
        return frozenset()
    rows = SessionAttendee.objects.filter(session__uid__in=list(dates))
    leaving = rows.filter(student__enrollments__last_day__lt=max(dates.values())).values("session__uid")
    attending: dict[tuple[UUID, int], set[int]] = defaultdict(set)
    found = rows.filter(session__uid__in=leaving).values_list("session__uid", "session__building", "student")
    for uid, building, student in found:
        attending[uid, building].add(student)
    stays = stays_by_student(set().union(*attending.values())) if attending else {}
    return frozenset(
        str(uid)
        for (uid, building), students in attending.items()
        if all(_has_left(stays.get(one, ()), building, dates[uid]) for one in students)
    )


def sessions_handed_over(sessions: Iterable[tuple[UUID, dt.date]]) -> frozenset[str]:
    """Sessions, by their uid, of which another teacher gives every service by the session's date.

    They stand in the week of the one before until it is planned again. At most two queries.
    """
    dates = dict(sessions)
    if not dates:
        return frozenset()
    others = ServiceLine.objects.filter(service=OuterRef("service_line__service"))
    others = others.filter(start__lte=max(dates.values())).exclude(provider=OuterRef("session__week__teacher"))
    rows = SessionAttendee.objects.filter(session__uid__in=list(dates))
    touched = rows.filter(Exists(others)).values("session__uid")
    names = ("session__uid", "session__week__teacher", "service_line__service")
    attending = set(rows.filter(session__uid__in=touched).values_list(*names))
    if not attending:
        return frozenset()
    versions: dict[int, list[ServiceLine]] = defaultdict(list)
    for line in ServiceLine.objects.filter(service__in={service for *_, service in attending}):
        versions[line.service_id].append(line)
    own = {uid for uid, teacher, service in attending if not _is_anothers(versions[service], teacher, dates[uid])}
    return frozenset(str(uid) for uid, *_ in attending if uid not in own)


def _is_anothers(versions: Iterable[ServiceLine], teacher: int, date: dt.date) -> bool:
    """Whether a service on a date is that of a teacher who took it over: the one who planned it gave it before."""
    before = any(line.provider_id == teacher and line.start <= date for line in versions)
    return before and any(line.provider_id != teacher and line.start <= date <= line.end for line in versions)


def _has_left(stays: Sequence[Stay], building: int, date: dt.date) -> bool:
    """Whether a student was at a building and isn't on a date. Nothing is said of who was never there by record."""
    there = [stay for stay in stays if stay.building_id == building]
    gone = max((stay.ends for stay in stays), default=dt.date.max) < date
    return gone or (any(stay.ends < date for stay in there) and not any(date in stay for stay in there))
