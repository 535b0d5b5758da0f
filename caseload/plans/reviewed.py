"""What a reviewer sees of a student: where they were in the reviewed buildings, and from which date to which."""

import datetime as dt
from collections.abc import Collection, Iterable

from accounts.dates import span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import Enrollment, Student, enrollments_of, enrollments_shown
from travel.places.models import Building, BuildingReview

type Span = tuple[dt.date, dt.date]

OUTSIDE = "You may see {spans}. Choose dates within."


def buildings_seen(viewer: Person) -> frozenset[int] | None:
    """By id, the buildings of which a reviewer sees students; None for whoever sees them wherever they are."""
    if not viewer.is_reviewer:
        return None
    return frozenset(Building.objects.visible_to(viewer).values_list("pk", flat=True))


def enrollments_seen(student: Student, among: Collection[int] | None) -> tuple[Enrollment, ...]:
    """A student's enrollments: all, or those in some buildings."""
    return tuple(one for one in enrollments_of(student) if among is None or one.building_id in among)


def places_seen(student: Student, day: dt.date, among: Collection[int] | None) -> tuple[Enrollment, ...]:
    """Where a student is on a date, as a list tells it; for a reviewer wherever in the reviewed buildings."""
    return enrollments_shown(student, day) if among is None else enrollments_seen(student, among)


def student_spans(viewer: Person, student: Student) -> tuple[Span, ...]:
    """From which date to which a reviewer sees a student: reviewed dates at a reviewed building."""
    found = []
    for review in BuildingReview.objects.open_to(viewer).prefetch_related("buildings"):
        among = {one.pk for one in review.buildings.all()}
        for stay in (one.stay for one in enrollments_seen(student, among)):
            span = max(review.first_date, stay.begins), min(review.last_date, stay.ends)
            found += [span] if span[0] <= span[1] else []
    return tuple(sorted(set(found)))


def building_spans(viewer: Person, building: Building) -> tuple[Span, ...]:
    """From which date to which a reviewer sees a building."""
    rows = BuildingReview.objects.open_to(viewer).filter(buildings=building)
    return tuple(sorted({(one.first_date, one.last_date) for one in rows}))


def dates_require(viewer: Person, spans: Iterable[Span], first: dt.date, last: dt.date) -> None:
    """Refuse a reviewer dates out of what may be seen. Raises `ApplicationError` (``outside_review``)."""
    known = list(spans)
    if viewer.is_reviewer and not any(begin <= first and last <= end for begin, end in known):
        words = " and ".join(span_words(*one) for one in known) or "nothing of this"
        raise ApplicationError(OUTSIDE.format(spans=words), code="outside_review")
