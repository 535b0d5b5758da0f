"""Where a student is and on whose caseload, each from a day on."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.enrollments import Stay, stay_nearest, stay_on, teacher_on
from caseload.plans.grades import GRADE_CHOICES
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.models.student import Student
from travel.places.models import Building

DATED = ("plan__student__enrollments__building__district", "plan__student__assignments")
"""What service lines need prefetched where each is asked of a date."""


class OfStudentQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their student."""

    def visible_to(self, viewer: object) -> "OfStudentQuerySet[M]":
        """Rows about the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))


class Enrollment(models.Model):
    """A student at a building, in a class and a grade, from its first to its last day (both included).

    Empty days: since as long as anybody knows, and until further notice. A student is at one school at a time, and
    beside it at programs that the plan names, such as mornings elsewhere. `Student` shows the one that holds today.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="enrollments")
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="enrollments")
    home_class = models.ForeignKey(
        SchoolClass, on_delete=models.SET_NULL, null=True, blank=True, related_name="enrollments"
    )
    grade = models.CharField(max_length=3, choices=GRADE_CHOICES)
    is_program = models.BooleanField(
        default=False, help_text="A program elsewhere that the plan names, beside the student's school."
    )
    first_day = models.DateField(null=True, blank=True, help_text="Empty: since as long as anybody knows.")
    last_day = models.DateField(null=True, blank=True, help_text="Empty: until further notice.")

    objects = OfStudentQuerySet["Enrollment"].as_manager()

    class Meta:
        ordering = ["student", "is_program", F("first_day").asc(nulls_first=True), "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(first_day__isnull=True) | Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="enrollment_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        since = f" from {date_words(self.first_day)}" if self.first_day else ""
        return f"{self.student.code} at {self.building}{since}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    @property
    def stay(self) -> Stay:
        """As the pure rules take it."""
        return Stay(
            self.building_id, self.first_day, self.last_day, self.grade, self.home_class_id, self.is_program
        )

    def clean(self) -> None:
        """Refuse a building of another district and a home class in another building."""
        if self.building_id and self.building.district_id != self.student.district_id:
            raise ValidationError({"building": "This building belongs to another district."}, code="other_district")
        if self.home_class is not None and self.home_class.building_id != self.building_id:
            raise ValidationError(
                {"home_class": "This class is in another building. Change the building or the class."},
                code="other_building",
            )


def enrollments_of(student: Student) -> tuple[Enrollment, ...]:
    """A student's enrollments: as they were known (`enrollments_then`), prefetched ones, or one query.

    Without any, the student is where the record says, from its first to its last day.
    """
    rows = student.enrollments.all() if student.enrollments_then is None else student.enrollments_then
    return tuple(rows) or (
        Enrollment(
            student=student,
            building=student.building,
            home_class=student.home_class,
            grade=student.grade,
            first_day=student.first_day,
            last_day=student.last_day,
        ),
    )


def stays_of(student: Student) -> tuple[Stay, ...]:
    """A student's enrollments as the pure rules take them."""
    return tuple(one.stay for one in enrollments_of(student))


def enrollment_on(student: Student, day: dt.date, building_id: int | None = None) -> Enrollment | None:
    """Where a student is on a date, for a service that names this building, if it names one."""
    rows = enrollments_of(student)
    found = stay_on([one.stay for one in rows], day, building_id)
    return next((one for one in rows if one.stay == found), None)


def enrollment_nearest(student: Student, day: dt.date, building_id: int | None = None) -> Enrollment:
    """The same; before the first day the first one, and while the student is away the last one before."""
    rows = enrollments_of(student)
    found = stay_nearest([one.stay for one in rows], day, building_id)
    return next(one for one in rows if one.stay == found)


def enrollments_shown(student: Student, day: dt.date) -> tuple[Enrollment, ...]:
    """Where a student is on a date, or was last, or will be first: the school, and the programs of that day."""
    school = enrollment_nearest(student, day)
    programs = [one for one in enrollments_of(student) if one.is_program and day in one.stay and one != school]
    return (school, *programs)


class CaseloadAssignment(models.Model):
    """On whose caseload a student is from a day on, until the next assignment begins.

    An empty first day: since as long as anybody knows. `Student.caseload_teacher` shows the one that holds today.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="assignments")
    teacher = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="assignments")
    first_day = models.DateField(null=True, blank=True, help_text="Empty: since as long as anybody knows.")

    objects = OfStudentQuerySet["CaseloadAssignment"].as_manager()

    class Meta:
        ordering = ["student", F("first_day").asc(nulls_first=True), "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "first_day"],
                name="assignment_once_a_day",
                violation_error_message="The student's caseload teacher already changes on this day.",
            ),
            models.UniqueConstraint(
                fields=["student"],
                condition=Q(first_day__isnull=True),
                name="assignment_one_first",
                violation_error_message="The student already has a first caseload teacher.",
            ),
        ]

    def __str__(self) -> str:
        since = f" from {date_words(self.first_day)}" if self.first_day else ""
        return f"{self.student.code} with {self.teacher}{since}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    @property
    def begins(self) -> dt.date:
        """Its first day; the calendar's earliest where nobody knows."""
        return self.first_day or dt.date.min

    def clean(self) -> None:
        """Refuse a teacher of another district."""
        if self.teacher_id and self.teacher.district_id != self.student.district_id:
            raise ValidationError({"teacher": "This teacher isn't in the district."}, code="other_district")


def caseload_teacher_on(student: Student, day: dt.date) -> int:
    """The id of the teacher on whose caseload a student is on a date; the record's where no assignment is known."""
    dated = [(one.first_day, one.teacher_id) for one in student.assignments.all()]
    return teacher_on(dated, day) or student.caseload_teacher_id
