"""Writes of where a student is: moving, leaving, coming back, programs elsewhere; and on whose caseload.

What holds on a date is decided by the rows (`caseload.plans.enrollments`); the student's own record shows what
holds today. Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of
sight).
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person
from accounts.selectors import today_in, today_of
from accounts.services import NOT_THERE, permission_require, record_change, record_remove
from caseload.plans.enrollment import rules
from caseload.plans.enrollment.selectors import students_shown_late
from caseload.plans.enrollments import ONE_DAY, Stay, stay_nearest, stay_on, teacher_on
from caseload.plans.models import CaseloadAssignment, Enrollment, ServiceLine, Student
from caseload.plans.selectors import changes_of_service
from caseload.plans.services.changes import service_change, terms_of
from caseload.plans.services.kept import change_undo

PERMISSION = "caseload.change"
PLACE = ("building", "home_class", "grade")
SHOWN = (*PLACE, "first_day", "last_day")
CLASS_NEEDED = (
    "The service “{statement}” is pushed into a class of the building before. Choose the class at the new school, "
    "into which it is pushed from then on."
)
LEAVING = "student_leave"
"""What the log of changes calls a program that ended with the school, or goes on because the student stays."""
TIED = {"pushed_into", "allowed_spaces", "held_in", "way_minutes"}
NOTHING_CHANGES = "The student is there already, in this class and grade. Change something, or leave it as it is."


def student_enroll(*, student: Student) -> None:
    """The first enrollment and assignment, as the record says. Call it where the record is saved."""
    if not student.enrollments.exists():
        Enrollment.objects.create(student=student, **{name: getattr(student, name) for name in SHOWN})
    if not student.assignments.exists():
        CaseloadAssignment.objects.create(student=student, teacher=student.caseload_teacher)


def student_show(*, student: Student, today: dt.date) -> None:
    """Have the student's record show what holds today: the school, not a program; or the last or first one."""
    now = {**_school_shown(student, today), **_teacher_shown(student, today)}
    changed = [name for name, value in now.items() if value != getattr(student, name)]
    for name in changed:
        setattr(student, name, now[name])
    if changed:
        student.save(update_fields=changed)


def _school_shown(student: Student, today: dt.date) -> dict[str, Any]:
    rows = list(student.enrollments.filter(is_program=False).select_related("building", "home_class"))
    row = _holding_nearest(rows, today) if rows else None
    return {name: getattr(row, name) for name in SHOWN} if row is not None else {}


def _teacher_shown(student: Student, today: dt.date) -> dict[str, Any]:
    teachers = {one.teacher_id: one.teacher for one in student.assignments.select_related("teacher")}
    dated = student.assignments.values_list("first_day", "teacher_id")
    teacher = teacher_on(dated, today)
    return {"caseload_teacher": teachers[teacher]} if teacher is not None else {}


def student_move(*, actor: Person, student: Student, from_day: dt.date, values: Mapping[str, Any]) -> Enrollment:
    """Another school, class or grade from a day on; what isn't among the values stays, and so do the days before.

    In another building the student has no home class unless one is given. A move on a day on which an enrollment
    begins changes that one. `enrollment_take_back` takes a move back.
    """
    with transaction.atomic():
        rows = _rows_for_change(actor, student)
        before = _stays(rows)
        schools = [row for row in rows if not row.is_program]
        held = _holding(schools, from_day)
        wanted = _wanted(held or _holding_nearest(schools, from_day), values)
        if held is not None and not any(getattr(held, name) != value for name, value in wanted.items()):
            raise ValidationError({"building": NOTHING_CHANGES})
        if held is not None and held.first_day == from_day:
            moved = _save(actor, held, wanted)
        else:
            moved = _after(actor, student, schools, held, from_day, wanted)
        _services_follow(actor, student, moved, from_day)
        _finish(actor, student, before, "building")
    return moved


def _services_follow(actor: Person, student: Student, moved: Enrollment, from_day: dt.date) -> None:
    """Services tied to a class or to spaces go on in the new class and in any space, from the day of the move."""
    lines = ServiceLine.objects.filter(plan__student=student, building=None, end__gte=from_day)
    for line in lines.select_related("service", "pushed_into", "held_in").order_by("start", "pk"):
        values = _values_there(line, moved)
        if values:
            service_change(actor=actor, row=line, from_day=max(from_day, line.start), values=values, seen=None)


def _values_there(line: ServiceLine, moved: Enrollment) -> dict[str, Any]:
    """What a service can't keep in another building: the class that it is pushed into, and its spaces."""
    values: dict[str, Any] = {}
    if line.pushed_into is not None and line.pushed_into.building_id != moved.building_id:
        if moved.home_class is None:
            raise ValidationError({"home_class": CLASS_NEEDED.format(statement=line.statement)})
        values["pushed_into"] = moved.home_class
    spaces = list(line.allowed_spaces.all())
    there = [space for space in spaces if space.building_id == moved.building_id]
    if len(there) < len(spaces):
        values["allowed_spaces"] = there
    if line.held_in is not None and line.held_in.building_id == moved.building_id:
        values |= {"held_in": None, "way_minutes": 0, "allowed_spaces": [line.held_in]}
    return values


def _finish(actor: Person, student: Student, before: Sequence[Stay], field: str) -> None:
    """Hold what was logged, and what services are tied to, against the change; and show what holds today."""
    after = [row.stay for row in student.enrollments.all()]
    told = rules.sessions_lost(student, before, after)
    if told:
        raise ValidationError({field: told})
    elsewhere = rules.service_elsewhere(student, before, after)
    if elsewhere:
        raise ValidationError({"building": elsewhere})
    student_show(student=student, today=today_of(actor))


def _rows_for_change(actor: Person, student: Student) -> list[Enrollment]:
    """The student's enrollments, while nobody else changes them."""
    permission_require(actor, PERMISSION)
    if not Student.objects.changeable_by(actor).filter(pk=student.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    Student.objects.select_for_update().get(pk=student.pk)
    student_enroll(student=student)
    return list(student.enrollments.select_related("building", "home_class", "student__district"))


def _stays(rows: Iterable[Enrollment]) -> list[Stay]:
    """As they are now: rows change."""
    return [row.stay for row in rows]


def _holding(rows: Sequence[Enrollment], day: dt.date) -> Enrollment | None:
    stay = stay_on([row.stay for row in rows], day)
    return next((row for row in rows if row.stay == stay), None)


def _holding_nearest(rows: Sequence[Enrollment], day: dt.date) -> Enrollment:
    stay = stay_nearest([row.stay for row in rows], day)
    return next(row for row in rows if row.stay == stay)


def _wanted(held: Enrollment, values: Mapping[str, Any]) -> dict[str, Any]:
    """Where the student is from then on."""
    wanted = {name: values.get(name, getattr(held, name)) for name in PLACE}
    if wanted["building"] != held.building and "home_class" not in values:
        wanted["home_class"] = None
    return wanted


def _after(
    actor: Person,
    student: Student,
    schools: Sequence[Enrollment],
    held: Enrollment | None,
    from_day: dt.date,
    wanted: Mapping[str, Any],
) -> Enrollment:
    """The enrollment that begins on a day; the one that held then ends the day before."""
    following = [row.first_day for row in schools if row.first_day is not None and row.first_day > from_day]
    last = held.last_day if held is not None else (min(following) - ONE_DAY if following else None)
    if held is not None:
        _save(actor, held, {"last_day": from_day - ONE_DAY})
    return _save(actor, Enrollment(student=student), {**wanted, "first_day": from_day, "last_day": last})


def _save(actor: Person, row: Enrollment, values: Mapping[str, Any], action: str = "enrollment_save") -> Enrollment:
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action=action,
        permission=PERMISSION,
        rules=[rules.one_school_at_a_time],
    )


def enrollment_save(*, actor: Person, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
    """Correct an enrollment that was always wrong, since its first day; or add a program elsewhere.

    A move is `student_move`, which leaves the days before as they were.
    """
    with transaction.atomic():
        before = _stays(_rows_for_change(actor, row.student))
        saved = _save(actor, row, values)
        _finish(actor, row.student, before, "first_day" if "first_day" in values else "last_day")
    return saved


def enrollment_take_back(*, actor: Person, row: Enrollment) -> None:
    """Take a move or a program back: the school before goes on for its days.

    Raises `ApplicationError` (code ``only_enrollment``) for the only school that a student has.
    """
    with transaction.atomic():
        student, last = row.student, row.last_day
        rows = _rows_for_change(actor, student)
        before = _stays(rows)
        schools = [one for one in rows if not one.is_program and one != row]
        if not row.is_program and not schools:
            raise ApplicationError(
                "This is the only school that is known of the student. Correct it instead.", code="only_enrollment"
            )
        previous = None if row.is_program else _ending_before(schools, row.first_day)
        _services_return(actor, row)
        record_remove(actor=actor, row=row, action="enrollment_take_back", permission=PERMISSION)
        if previous is not None:
            _save(actor, previous, {"last_day": last})
        _finish(actor, student, before, "first_day")


def _services_return(actor: Person, row: Enrollment) -> None:
    """Take back what the move did to services: versions that differ from those before in class or spaces alone."""
    if row.first_day is None:
        return
    began = ServiceLine.objects.filter(plan__student=row.student_id, start=row.first_day)
    for line in began.select_related("service"):
        before = line.service.versions.filter(end=row.first_day - ONE_DAY).first()
        last = changes_of_service(line.service).first()
        changed = last is not None and last.action == "service_change"
        if before is not None and changed and _differ_in(before, line) <= TIED and _differ_in(before, line):
            change_undo(actor=actor, row=line.service)


def _differ_in(before: ServiceLine, after: ServiceLine) -> set[str]:
    """The terms in which two versions differ."""
    one, other = terms_of(before), terms_of(after)
    return {name for name in one if name != "end" and one[name] != other[name]}


def _ending_before(rows: Iterable[Enrollment], day: dt.date | None) -> Enrollment | None:
    """The enrollment that goes over into one that begins on a day."""
    return next((one for one in rows if day is not None and one.last_day == day - ONE_DAY), None)


def enrollment_shown(actor: Person, student: Student) -> Enrollment:
    """The enrollment that the student's record shows."""
    schools = [row for row in _rows_for_change(actor, student) if not row.is_program]
    return _holding_nearest(schools, today_of(actor))


def student_leave(*, actor: Person, student: Student, last_day: dt.date | None) -> Enrollment:
    """The student's last day here, at the school and at every program; None: the student stays after all.

    A program that an earlier last day had ended goes on as it did before: to the new day, or to its own end.

    Raises `ValidationError` where a later move is entered, or a session after that day is logged.
    """
    with transaction.atomic():
        rows = _rows_for_change(actor, student)
        before = _stays(rows)
        held = max((row for row in rows if not row.is_program), key=lambda row: row.stay.begins)
        if last_day is not None and held.stay.begins > last_day:
            raise ValidationError(
                {
                    "last_day": f"The student is at {held.building} from {date_words(held.stay.begins)} on. "
                    "Take that back first, or choose a later day."
                }
            )
        for program in (row for row in rows if row.is_program):
            ends = _end_with_school(program, last_day)
            if ends != program.last_day:
                _save(actor, program, {"last_day": ends}, action=LEAVING)
        saved = _save(actor, held, {"last_day": last_day})
        _finish(actor, student, before, "last_day")
    return saved


def _end_with_school(program: Enrollment, last_day: dt.date | None) -> dt.date | None:
    """When a program ends if the student leaves after a day: by itself, or with the school."""
    own = _own_end(program)
    if last_day is None or program.stay.begins > last_day:
        return own
    return last_day if own is None else min(own, last_day)


def _own_end(program: Enrollment) -> dt.date | None:
    """A program's last day but for the student's leaving, which may have ended it."""
    rows = AuditEntry.objects.filter(model=program._meta.label_lower, object_id=str(program.pk))
    own = program.last_day
    for entry in rows.filter(changes__has_key="last_day").order_by("-pk"):
        before, after = entry.changes["last_day"]
        if entry.action != LEAVING or after != (own.isoformat() if own else None):
            break
        own = dt.date.fromisoformat(before) if before else None
    return own


def caseload_assign(
    *, actor: Person, student: Student, teacher: Person, from_day: dt.date | None
) -> CaseloadAssignment:
    """On whose caseload a student is from a day on; an empty day: it was always so, and nobody else's ever.

    Services keep their providers (`caseload_hand_over` changes both). Assignments of later days stay.
    """
    with transaction.atomic():
        _rows_for_change(actor, student)
        if from_day is None:
            for other in student.assignments.exclude(first_day=None):
                record_remove(actor=actor, row=other, action="caseload_assign", permission=PERMISSION)
        row = student.assignments.filter(first_day=from_day).first()
        saved = record_change(
            actor=actor,
            row=row or CaseloadAssignment(student=student, first_day=from_day),
            values={"teacher": teacher},
            action="caseload_assign",
            permission=PERMISSION,
            rules=[rules.assigned_teacher_teaches],
        )
        student_show(student=student, today=today_of(actor))
    return saved


def assignment_take_back(*, actor: Person, row: CaseloadAssignment) -> None:
    """Take an assignment back: the teacher before goes on. The first one can only be changed."""
    if row.first_day is None:
        raise ApplicationError("A student has a caseload teacher. Choose another instead.", code="only_assignment")
    with transaction.atomic():
        student = row.student
        record_remove(actor=actor, row=row, action="assignment_take_back", permission=PERMISSION)
        student_show(student=student, today=today_of(actor))


def students_show_today(*, district: District) -> None:
    """Have each record show what holds today; nobody is asked, for it was decided when the move was entered."""
    today = today_in(district)
    for student in students_shown_late(district, today):
        with transaction.atomic():
            student_show(student=student, today=today)
