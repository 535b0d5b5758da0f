"""What caseload rows must keep to across rows; each rule answers with problems by field (accounts.validation)."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from accounts.dates import date_words, span_words
from accounts.models import Person
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student


def caseload_teacher_teaches(row: Student, values: Mapping[str, Any]) -> dict[str, str]:
    """A caseload belongs to someone who teaches."""
    del values
    if row.caseload_teacher.holds(Person.Role.TEACHER):
        return {}
    return {"caseload_teacher": "This person isn't a teacher. Choose the teacher who has the caseload."}


def plan_does_not_overlap(row: Plan, values: Mapping[str, Any]) -> dict[str, str]:
    """Two plans at one time would owe everything twice."""
    del values
    other = (
        Plan.objects.filter(student=row.student, start__lte=row.end, end__gte=row.start).exclude(pk=row.pk).first()
    )
    if other is None:
        return {}
    return {
        "start": f"Another plan runs from {span_words(other.start, other.end)}. "
        "End that one first, or start this one after it."
    }


def plan_holds_its_lines(row: Plan, values: Mapping[str, Any]) -> dict[str, str]:
    """A plan can't shrink away from under its services."""
    del values
    if not row.pk:
        return {}
    late = row.lines.filter(end__gt=row.end).first()
    early = row.lines.filter(start__lt=row.start).first()
    problems: dict[str, str] = {}
    if late is not None:
        problems["end"] = f"The service “{late.statement}” runs to {date_words(late.end)}. Change its end first."
    if early is not None:
        problems["start"] = (
            f"The service “{early.statement}” begins on {date_words(early.start)}. Change its start first."
        )
    return problems


def provider_teaches(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """A service is given by someone who teaches."""
    del values
    if row.provider.holds(Person.Role.TEACHER):
        return {}
    return {"provider": "This person isn't a teacher. Choose the teacher who gives the service."}


def spaces_are_in_the_building(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """A service can only be held to spaces where the student is."""
    places = row.places()
    elsewhere = [space for space in values.get("allowed_spaces") or () if space.building_id not in places]
    if not elsewhere:
        return {}
    names = ", ".join(f"{space} ({space.building})" for space in elsewhere)
    return {"allowed_spaces": f"Not in the student's building: {names}. Choose spaces of that building."}


def either_here_or_elsewhere(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """Spaces of the student's building and one of another can't both be where a service is held."""
    allowed = values.get("allowed_spaces")
    named = bool(allowed) if allowed is not None else bool(row.pk) and row.allowed_spaces.exists()
    if row.held_in is None or not named:
        return {}
    return {
        "held_in": f"It is held either at {row.held_in.building} or in the allowed spaces of the student's school. "
        "Clear one of the two."
    }


def class_stays_with_its_students(row: SchoolClass, values: Mapping[str, Any]) -> dict[str, str]:
    """A class can't change buildings while students or services belong to it."""
    del values
    if not row.pk:
        return {}
    students = row.students.exclude(building=row.building).count()
    services = sum(row.building_id not in line.places() for line in row.pushed_in_lines.all())
    if not students + services:
        return {}
    return {
        "building": f"{students} students and {services} pushed-in services belong to this class where it is. "
        "Change those first, or make a new class in the other building."
    }


ONE_DAY = dt.timedelta(days=1)


def versions_follow_each_other(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """Two versions of one service at one time would owe it twice."""
    del values
    if not row.names_service:
        return {}
    others = row.service.versions.filter(start__lte=row.end, end__gte=row.start).exclude(pk=row.pk)
    other = others.order_by("start").first()
    if other is None:
        return {}
    return {
        "start": f"This service has other terms from {span_words(other.start, other.end)} ({other.statement}). "
        "Keep to the days before or after, or change it from a date."
    }


def year_after(day: dt.date) -> dt.date:
    """The same day a year later; of February 29, March 1."""
    return day.replace(year=day.year + 1) if (day.month, day.day) != (2, 29) else dt.date(day.year + 1, 3, 1)


def school_year_end(day: dt.date) -> dt.date:
    """June 30 after a date: how long provisional services run if nobody says (common practice, no source)."""
    return dt.date(day.year if day.month <= 6 else day.year + 1, 6, 30)
