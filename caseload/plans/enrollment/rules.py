"""What must still hold once a student's enrollments or assignments have changed."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.enrollments import Stay, buildings_between
from caseload.plans.models import CaseloadAssignment, Enrollment, ServiceLine, Student


def one_school_at_a_time(row: Enrollment, values: Mapping[str, Any]) -> dict[str, str]:
    """Two schools on one day would count its minutes by two calendars; a program stands beside the school."""
    del values
    stay = row.stay
    for other in row.student.enrollments.exclude(pk=row.pk).select_related("building"):
        both = other.stay.begins <= stay.ends and stay.begins <= other.stay.ends
        if both and (other.building_id == row.building_id or row.is_program == other.is_program):
            return {
                "first_day": f"The student is at {other.building} {_since(other.stay)}. End that first, or begin "
                "after it; what the plan names beside the school is entered as a program."
            }
    return {}


def _since(stay: Stay) -> str:
    first = f"from {date_words(stay.first)}" if stay.first else "from the beginning"
    return f"{first} to {date_words(stay.last)}" if stay.last else f"{first} on"


def assigned_teacher_teaches(row: CaseloadAssignment, values: Mapping[str, Any]) -> dict[str, str]:
    """A caseload belongs to someone who teaches."""
    del values
    if row.teacher.holds(Person.Role.TEACHER):
        return {}
    return {"teacher": "This person isn't a teacher. Choose the teacher who has the caseload."}


def sessions_lost(student: Student, before: Sequence[Stay], after: Sequence[Stay]) -> str:
    """What to say where days with logged sessions have no place any more; empty if none. One query."""
    days = student.entries.order_by("date").values_list("date", flat=True).distinct()
    lost = [day for day in days if _is_in(day, before) and not _is_in(day, after)]
    if not lost:
        return ""
    count = "1 day has" if len(lost) == 1 else f"{len(lost)} days have"
    return (
        f"{count} logged sessions that would no longer count, the first {date_words(lost[0])}. If the student "
        "moved, enter a move from its first day; if the log is wrong, correct it first."
    )


def _is_in(day: dt.date, stays: Iterable[Stay]) -> bool:
    return any(day in stay for stay in stays)


def service_elsewhere(student: Student, before: Sequence[Stay], after: Sequence[Stay]) -> str:
    """What to say where a service is tied to a class or a space of a building that the student is no longer in."""
    lines = ServiceLine.objects.filter(plan__student=student).select_related("pushed_into")
    for line in lines.prefetch_related("allowed_spaces"):
        if _elsewhere(line, after) and not _elsewhere(line, before):
            return (
                f"The service “{line.statement}” is tied to a class or a space of the building before. Change the "
                "service from that day first, or remove the class or the spaces from it."
            )
    return ""


def _elsewhere(line: ServiceLine, stays: Sequence[Stay]) -> bool:
    """Whether on some of its days the student is in none of the buildings that the line is tied to."""
    tied = {space.building_id for space in line.allowed_spaces.all()}
    if line.pushed_into is not None:
        tied = {line.pushed_into.building_id}
    places = buildings_between(stays, line.start, line.end, line.building_id)
    return bool(tied) and not set(places) <= tied
