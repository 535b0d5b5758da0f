"""Who has left: teachers after their last day of work, and sessions whose students are all gone."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q

from accounts.models import Person, Substitution
from caseload.plans.enrollment.selectors import stays_by_student
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


def sessions_of_left(sessions: Iterable[tuple[UUID, dt.date]]) -> frozenset[str]:
    """Sessions, by their uid, whose students have all left by the session's date."""
    dates = dict(sessions)
    if not dates:
        return frozenset()
    rows = SessionAttendee.objects.filter(session__uid__in=list(dates))
    leaving = rows.filter(student__enrollments__last_day__lt=max(dates.values())).values("session__uid")
    attending: dict[UUID, set[int]] = defaultdict(set)
    for uid, student in rows.filter(session__uid__in=leaving).values_list("session__uid", "student"):
        attending[uid].add(student)
    if not attending:
        return frozenset()
    stays = stays_by_student(set().union(*attending.values()))
    last = {student: max(stay.ends for stay in each) for student, each in stays.items()}
    return frozenset(
        str(uid)
        for uid, students in attending.items()
        if all(last.get(student, dt.date.max) < dates[uid] for student in students)
    )
