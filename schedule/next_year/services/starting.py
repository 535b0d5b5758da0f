"""Starting the coming year: what is said in its draft becomes dated records, all or none.

Everything that is written holds from the first day on, or lies in the coming year: no day before it changes. What
can't be dated, a class's grades and teacher, is written on the first day (`next_year_classes_write`).
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.selectors import today_in, today_of
from accounts.services import audit_write, permission_require, record_save
from caseload.plans.models import Enrollment, Student
from caseload.plans.services import student_leave, student_move
from schedule.calendar.models import CalendarEntry, MarkingPeriod, SchoolYear
from schedule.calendar.services.records import (
    calendar_entry_save,
    marking_period_save,
    school_year_save,
)
from schedule.long_steps.services import Report, nobody_waits
from schedule.next_year.models import NextYear, NextYearDay
from schedule.next_year.rolling import Lacks
from schedule.next_year.selectors.lines import StudentLine
from schedule.next_year.selectors.standing import YearStanding
from schedule.next_year.services.drafting import PERMISSION, STARTED
from travel.places.models import Building

BLOCKING = {Lacks.LEAVES, Lacks.BUILDING}


@dataclass(frozen=True, slots=True)
class Going:
    """How many students go from one building to another, or stay in it."""

    of: Building
    to: Building
    students: int


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What starting would write, in figures; nothing is saved by asking."""

    going: tuple[Going, ...]
    leaving: int
    entered: int
    periods: int
    days: int
    days_asked: int
    classes: int
    refused: str


def next_year_foreseen(*, actor: Person, row: NextYear, now: dt.datetime | None = None) -> Foreseen:
    """What starting would write. Raises ``ApplicationError``: 403, 404."""
    permission_require(actor, PERMISSION)
    standing = YearStanding(actor, row)
    to_go = [one for one in standing.students if not one.entered]
    counts = Counter((one.standing.building_id, one.coming.building_id) for one in to_go if not one.coming.leaves)
    names = standing.buildings
    going = [
        Going(names[of], names[to], count) for (of, to), count in counts.items() if of in names and to in names
    ]
    return Foreseen(
        going=tuple(sorted(going, key=lambda one: (str(one.of), str(one.to)))),
        leaving=sum(one.coming.leaves for one in to_go),
        entered=len(standing.students) - len(to_go),
        periods=row.periods.count(),
        days=row.days.filter(answer=NextYearDay.Answer.KEPT).count(),
        days_asked=standing.days_asked,
        classes=row.classes.filter(goes_on=True).count(),
        refused=_refused(standing, today_of(actor, now)),
    )


def _refused(standing: YearStanding, today: dt.date) -> str:
    """Why it can't be started; empty if nothing is against it."""
    row = standing.row
    if row.is_started:
        return STARTED
    if row.first_day < today:
        return f"{date_words(row.first_day)} is over. Choose a first day that is still to come."
    open_ones = [one for one in standing.students if BLOCKING & set(one.lacks)]
    if open_ones:
        count = f"{len(open_ones)} student{'s' if len(open_ones) != 1 else ''}"
        return f"Of {count} it isn't said where they go, or whether they leave. Say that first."
    return _year_in_the_way(row) or _outside(row)


def _year_in_the_way(row: NextYear) -> str:
    """A school year that is entered already holds it where both days are the same."""
    years = SchoolYear.objects.filter(
        district=row.district_id, first_day__lte=row.last_day, last_day__gte=row.first_day
    )
    for year in years:
        if (year.first_day, year.last_day) != (row.first_day, row.last_day):
            dates = span_words(year.first_day, year.last_day)
            return (
                f"The calendar has the year {year} from {dates} already. Choose the same days here, or change it."
            )
    if not years and SchoolYear.objects.filter(district=row.district_id, name=row.name).exists():
        return f"The calendar has another year {row.name} already. Choose another name here."
    return ""


def _outside(row: NextYear) -> str:
    """What lies outside the year since its first or last day was changed, or lost its bells."""
    period = row.periods.filter(Q(first_day__lt=row.first_day) | Q(last_day__gt=row.last_day)).first()
    if period is not None:
        dates = span_words(period.first_day, period.last_day)
        return f"The marking period {period} runs from {dates}, outside the year. Change its days or remove it."
    kept = row.days.filter(answer=NextYearDay.Answer.KEPT)
    day = kept.filter(Q(first_date__lt=row.first_day) | Q(last_date__gt=row.last_day)).first()
    if day is not None:
        return f"{day} is outside the year. Change its days or remove it."
    bare = next((one for one in kept if one.lacks_bells), None)
    return "" if bare is None else f"{bare} has another bell schedule, and none is chosen. Choose one or remove it."


def next_year_ready(*, actor: Person, row: NextYear, now: dt.datetime | None = None) -> int:
    """How many students starting would write. Raises ``ApplicationError``: 403, ``not_ready``."""
    permission_require(actor, PERMISSION)
    standing = YearStanding(actor, row)
    _ready_require(standing, today_of(actor, now))
    return sum(not one.entered for one in standing.students)


def _ready_require(standing: YearStanding, today: dt.date) -> None:
    refused = _refused(standing, today)
    if refused:
        raise ApplicationError(refused, code="not_ready")


def next_year_start(
    *, actor: Person, row: NextYear, now: dt.datetime | None = None, report: Report = nobody_waits
) -> NextYear:
    """Write the draft as dated records: the year with its days, and where each student is from the first day on.

    Raises ``ApplicationError`` ``not_ready``, and ``ValidationError`` by ``student.ID`` where a student can't go
    over, such as one who is pushed into a class and has none at the new school. Then nothing is written.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        held = NextYear.objects.select_for_update().get(pk=row.pk)
        standing = YearStanding(actor, held)
        _ready_require(standing, today_of(actor, now))
        held.written = {**_calendar_written(actor, held), **_students_written(actor, standing, report)}
        held.started_at, held.started_by = timezone.now(), actor
        held.save(update_fields=["written", "started_at", "started_by"])
        changes = {name: [None, len(held.written[name])] for name in ("moves", "leaves")}
        audit_write(actor=actor, district=held.district, action="next_year_start", row=held, changes=changes)
    return held


def _calendar_written(actor: Person, row: NextYear) -> dict[str, Any]:
    """The school year, unless it is entered already, its marking periods and special days."""
    dates = {"first_day": row.first_day, "last_day": row.last_day}
    year = SchoolYear.objects.filter(district=row.district_id, **dates).first()
    made = year is None
    if year is None:
        new = SchoolYear(district=row.district)
        year = school_year_save(actor=actor, row=new, values={"name": row.name, **dates})
    periods = [
        marking_period_save(
            actor=actor,
            row=MarkingPeriod(district=row.district, school_year=year),
            values={"name": one.name, "first_day": one.first_day, "last_day": one.last_day},
        ).pk
        for one in (row.periods.all() if not year.marking_periods.exists() else ())
    ]
    return {"year": year.pk, "year_made": made, "periods": periods, "days": _days_written(actor, row)}


def _days_written(actor: Person, row: NextYear) -> list[int]:
    fields = ("title", "kind", "building", "first_date", "last_date", "bell_schedule", "closes_at")
    kept = row.days.filter(answer=NextYearDay.Answer.KEPT).select_related("building", "bell_schedule")
    return [
        calendar_entry_save(
            actor=actor,
            row=CalendarEntry(district=row.district),
            values={name: getattr(one, name) for name in fields},
        ).pk
        for one in kept
        if not _is_entered(row, one)
    ]


def _is_entered(row: NextYear, day: NextYearDay) -> bool:
    """Whether the calendar says of these very days the same already."""
    return CalendarEntry.objects.filter(
        district=row.district_id,
        building=day.building,
        kind=day.kind,
        first_date=day.first_date,
        last_date=day.last_date,
    ).exists()


def _students_written(actor: Person, standing: YearStanding, report: Report) -> dict[str, Any]:
    moves: list[dict[str, Any]] = []
    leaves: list[dict[str, Any]] = []
    problems: dict[str, list[str]] = {}
    to_go = [one for one in standing.students if not one.entered]
    # As they are now: the rules of a move ask the student's enrollments again, and those of the draft were read.
    fresh = (
        Student.objects.changeable_by(actor).select_related("district").in_bulk([one.student.pk for one in to_go])
    )
    for done, one in enumerate(to_go):
        report(done)
        student = fresh[one.student.pk]
        try:
            if one.coming.leaves:
                leaves.append(_left(actor, standing.row, student))
            elif (row := _moved(actor, standing, one, student)) is not None:
                moves.append(as_written(row))
        except ValidationError as error:
            problems[f"student.{one.student.pk}"] = error.messages
    if problems:
        raise ValidationError(dict(problems))
    return {"moves": moves, "leaves": leaves, "classes": None}


def _moved(actor: Person, standing: YearStanding, one: StudentLine, student: Student) -> Enrollment | None:
    """From the first day on where the draft says; None for one to whom nothing changes."""
    coming, now = one.coming, one.standing
    if (coming.building_id, coming.grade, coming.class_id) == (now.building_id, now.grade, now.class_id):
        return None
    values = {
        "building": standing.buildings[coming.building_id or now.building_id],
        "grade": coming.grade,
        "home_class": standing.classes.get(coming.class_id) if coming.class_id is not None else None,
    }
    return student_move(actor=actor, student=student, from_day=standing.row.first_day, values=values)


def _left(actor: Person, row: NextYear, student: Student) -> dict[str, Any]:
    schools = student.enrollments.filter(is_program=False)
    before = max(schools, key=lambda each: each.stay.begins, default=None)
    was = before.last_day if before is not None else student.last_day
    saved = student_leave(actor=actor, student=student, last_day=row.eve)
    return {"id": saved.pk, "student": student.pk, "before": was, "after": row.eve}


def as_written(row: Enrollment) -> dict[str, Any]:
    """What is kept of a move, by which it is known again when it is taken back."""
    return {
        "id": row.pk,
        "student": row.student_id,
        "building": row.building_id,
        "home_class": row.home_class_id,
        "grade": row.grade,
        "first_day": row.first_day.isoformat() if row.first_day is not None else None,
    }


# ---- on the first day ------------------------------------------------------------------------------------


def next_years_come() -> None:
    """Write what waits for its first day, in every district."""
    waiting = NextYear.objects.filter(started_at__isnull=False, written__classes=None)
    for district in District.objects.filter(pk__in=waiting.values("district")):
        next_year_classes_write(district=district)


def next_year_classes_write(*, district: District, now: dt.datetime | None = None) -> None:
    """On the first day of a started year or after it, once: what is said of classes, in whose name it was started.

    A class of which nothing is said stays as it is, and so does one that doesn't go on.
    """
    today = today_in(district, now)
    rows = NextYear.objects.filter(district=district, started_at__isnull=False, first_day__lte=today)
    for pk in list(rows.values_list("pk", flat=True)):
        with transaction.atomic():
            # Read under the lock: somebody may be taking the year back, or another worker writing the same.
            row = rows.select_for_update(of=("self",)).select_related("started_by").filter(pk=pk).first()
            if row is not None and row.written.get("classes") is None and row.started_by is not None:
                row.written["classes"] = list(_classes_written(row.started_by, row))
                row.save(update_fields=["written"])


def _classes_written(actor: Person, row: NextYear) -> Iterator[dict[str, Any]]:
    for one in row.classes.filter(goes_on=True).select_related("school_class__building__district"):
        room = one.school_class
        before = {"grades": room.grades, "class_teacher": room.class_teacher}
        after = {"grades": one.grades, "class_teacher": one.class_teacher}
        if before != after:
            record_save(actor=actor, row=room, values=after, action="next_year_classes")
            yield {"id": room.pk, "before": before, "after": after}
