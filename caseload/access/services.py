"""Writes who saw what: the only place that does."""

import datetime as dt
from collections.abc import Collection

from django.db import transaction
from django.utils import timezone

from accounts.models import Person
from caseload.access.models import Access
from caseload.plans.models import Student

FEW = 25
"""Up to so many students are named one by one: a class, a teacher's day. More are a list, and counted."""
AGAIN = dt.timedelta(minutes=5)
"""The same page with the same number of students by the same person within this time is the same look."""
REFUSED_AGAIN, MOST_REFUSED = dt.timedelta(hours=1), 50
"""What somebody is refused is recorded once a page in this time, and for so many pages at most. Our own choice."""


def access_record(
    *,
    person: Person,
    kind: Access.Kind,
    page: str = "",
    about: str = "",
    why: str = "",
    students: Collection[int] = (),
    now: dt.datetime | None = None,
) -> None:
    """Record one access, in the role in which the person works. Students by id.

    Nothing is recorded of somebody without a district.
    """
    moment = now or timezone.now()
    if person.district_id is None:
        return
    with transaction.atomic():
        row = Access(
            district_id=person.district_id,
            person=person,
            kind=kind,
            role="" if kind in Access.UNSIGNED else person.role,
            at=moment,
            page=page[:60],
            about=about[:120],
            why=why[:200],
            count=len(students),
        )
        if kind == Access.Kind.VIEW and _is_again(row, students, moment):
            return
        row.save()
        if len(students) <= FEW:
            # Whoever was deleted in the same request is left out.
            row.students.set(Student.objects.filter(pk__in=students))


def access_refused(*, person: Person, page: str, now: dt.datetime | None = None) -> None:
    """Record that somebody asked for what isn't for their role: each page once in a while, and so many of a person.

    More are dropped, so that nobody fills the record by asking.
    """
    moment = now or timezone.now()
    kind = Access.Kind.TURNED_AWAY
    lately = Access.objects.filter(person=person, kind=kind, at__gt=moment - REFUSED_AGAIN, at__lte=moment)
    if lately.filter(page=page[:60]).exists() or lately.count() >= MOST_REFUSED:
        return
    access_record(person=person, kind=kind, page=page, now=moment)


def _is_again(row: Access, students: Collection[int], now: dt.datetime) -> bool:
    same = Access.objects.filter(
        person=row.person,
        kind=row.kind,
        role=row.role,
        page=row.page,
        count=row.count,
        at__gt=now - AGAIN,
        at__lte=now,
    )
    last = same.order_by("-at", "-pk").first()
    if last is None or len(students) > FEW:
        return last is not None
    return set(last.students.values_list("pk", flat=True)) == set(students)
