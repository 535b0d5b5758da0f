"""Reads who was shown what is written about students' care."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.db.models import QuerySet
from django.utils import timezone

from accounts.models import Person
from caseload.care.models import CareView
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames

MOST = 2000
"""Rows that are read at once; a substitute's day makes some hundred."""
PAGES = {
    "day": "the day",
    "day_of": "the day",
    "packet": "the packet",
    "week": "the week",
    "log": "the log",
    "log_session": "the log of a session",
    "class_hour": "a class hour",
    "class_hour_run": "a class hour, running",
    "rotation": "stations",
    "student_list": "the list of students",
    "student_detail": "the student’s page",  # noqa: RUF001 -- as pages write it
}


@dataclass(frozen=True, slots=True)
class SeenOnce:
    """One page that a substitute opened. `students` by name, as the reader may know them."""

    viewer: str
    at: dt.datetime
    page: str
    students: tuple[str, ...]


def care_views(viewer: Person) -> QuerySet[CareView]:
    """What was shown of the students whom somebody may see: for a teacher the own, for a coordinator all."""
    rows = CareView.objects.visible_to(viewer).select_related("viewer", "student")
    return rows if viewer.has_perm("care.views") else rows.none()


def viewers_of(viewer: Person) -> QuerySet[Person]:
    """Who was shown anything of it."""
    people = Person.objects.filter(pk__in=care_views(viewer).order_by().values("viewer"))
    return people.order_by("first_name", "last_name", "pk")


def seen_between(viewer: Person, first: dt.date, last: dt.date, who: Person | None = None) -> list[SeenOnce]:
    """Pages opened between two dates, the latest first; of `MOST` rows at most."""
    zone = timezone.get_current_timezone()
    begin = dt.datetime.combine(first, dt.time(), zone)
    end = dt.datetime.combine(last + dt.timedelta(days=1), dt.time(), zone)
    rows = care_views(viewer).filter(seen_at__gte=begin, seen_at__lt=end)
    if who is not None:
        rows = rows.filter(viewer=who)
    found = list(rows.order_by("-seen_at", "viewer", "page", "pk")[:MOST])
    names = student_names(viewer, among={one.student_id for one in found})
    every = groupby(found, key=lambda one: (one.seen_at, one.viewer_id, one.page))
    return [_once(list(several), names) for _, several in every]


def _once(rows: list[CareView], names: StudentNames) -> SeenOnce:
    one = rows[0]
    return SeenOnce(str(one.viewer), one.seen_at, page_words(one.page), tuple(sorted(_called(rows, names))))


def _called(rows: Iterable[CareView], names: StudentNames) -> Iterable[str]:
    return (names.full.get(one.student_id) or one.student.code for one in rows)


def page_words(page: str) -> str:
    """What a page is called in a sentence."""
    return PAGES.get(page, "a program" if page.startswith("api:") else "another page")
