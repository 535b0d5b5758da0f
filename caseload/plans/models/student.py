"""Students, and the times when they can't be taken out of what they do."""

import datetime as dt
from collections.abc import Collection
from typing import Any, Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from accounts.models import District, DistrictRow, Person, ScopedQuerySet, Substitution
from accounts.selectors import today_of
from caseload.plans.covered import in_covered_sessions
from caseload.plans.grades import GRADE_CHOICES
from caseload.plans.models.school_class import SchoolClass
from caseload.plans.naming import marked
from caseload.plans.shown import shown_note
from travel.places.models import Building, BuildingReview


class StudentQuerySet(ScopedQuerySet["Student"]):
    """A teacher sees the own caseload and mates', a coordinator the district, a reviewer what is named."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Students of the viewer's caseload (or of the covered teacher's, while the substitution lasts).

        Of mates' caseloads only where `viewer.mates` says so: whether they may be changed is asked of
        `changeable_by`, which leaves them out.
        """
        if viewer.is_coordinator:
            return self
        if viewer.is_teacher:
            teachers = {viewer.pk, *(one.person_id for one in viewer.mates)}
            return self.of_teachers(Person.objects.filter(pk__in=teachers), today_of(viewer))
        if viewer.role == Person.Role.SUBSTITUTE:
            return self.covered_by(viewer, today_of(viewer))
        return self.reviewed_by(viewer) if viewer.is_reviewer else self.none()

    def reviewed_by(self, reviewer: Person) -> Self:
        """Students who are at a reviewed building on one of the dates that are seen, also for a program."""
        reviews = BuildingReview.objects.open_to(reviewer)
        stay = "buildings__enrollments"
        begun = Q(**{f"{stay}__first_day__isnull": True}) | Q(**{f"{stay}__first_day__lte": F("last_date")})
        lasts = Q(**{f"{stay}__last_day__isnull": True}) | Q(**{f"{stay}__last_day__gte": F("first_date")})
        there = reviews.filter(begun, lasts, **{f"{stay}__isnull": False}).values(f"{stay}__student")
        by_record = Student.objects.filter(enrollments__isnull=True, building__in=reviews.values("buildings"))
        return self.filter(Q(pk__in=there) | Q(pk__in=by_record.values("pk")))

    def of_teachers(self, teachers: "models.QuerySet[Person]", day: dt.date) -> Self:
        """Students whose caseload teacher from a date on, or provider on any service line, is among `teachers`."""
        ways = (
            Q(caseload_teacher__in=teachers),
            Q(assignments__teacher__in=teachers, assignments__first_day__gte=day),
            Q(plans__lines__provider__in=teachers),
        )
        # Each way by its index: with "or" every student of the district is looked at, with all services.
        own, *others = (Student.objects.filter(way).order_by().values("pk") for way in ways)
        return self.filter(pk__in=own.union(*others))

    def covered_by(self, substitute: Person, day: dt.date) -> Self:
        """Students whom a substitute may see on a date.

        Who stands in for whole days sees the caseload; for some sessions or by a link, who is in the sessions.
        """
        rows = self.filter(district_id=substitute.district_id)
        if substitute.by_link:
            return rows.filter(in_covered_sessions(substitute, day))
        covers = Substitution.objects.filter(substitute=substitute, first_date__lte=day, last_date__gte=day)
        teachers = Person.objects.filter(pk__in=covers.whole_days().values("teacher"))
        # The caseload by its ids: two conditions in one question would need every student's plans for each.
        caseload = Q(pk__in=rows.of_teachers(teachers, day).values("pk"))
        return rows.filter(caseload | in_covered_sessions(substitute, day))


class Student(DistrictRow):
    """A student with an individual plan, or waiting for one.

    Building, class, grade, caseload teacher and days are what holds today: of another date ask the enrollments and
    assignments (`enrollment_on`, `caseload_teachers_on`), which decide.
    """

    code = models.SlugField(max_length=20, help_text="A code of your own, unique in the district; not the name.")
    first_name = models.CharField(max_length=60)
    last_name = models.CharField(max_length=60)
    grade = models.CharField(max_length=3, choices=GRADE_CHOICES)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="students")
    home_class = models.ForeignKey(
        SchoolClass, on_delete=models.SET_NULL, null=True, blank=True, related_name="students"
    )
    caseload_teacher = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="caseload")
    first_day = models.DateField(null=True, blank=True, help_text="First day at this school, if mid-year.")
    last_day = models.DateField(null=True, blank=True)

    enrollments_then: "tuple[Any, ...] | None" = None
    """Enrollments as they were known on a day, where a report of that day is made; None: as they are."""

    objects = StudentQuerySet.as_manager()

    class Meta:
        ordering = ["last_name", "first_name"]
        indexes = [
            # A district's list a page at a time, and which of its buildings have students.
            models.Index(fields=["district", "last_name", "first_name"], name="student_by_name"),
            models.Index(fields=["district", "building"], name="student_by_building"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "code"],
                name="student_code_once",
                violation_error_message="Another student has this code.",
            ),
            models.CheckConstraint(
                condition=Q(first_day__isnull=True) | Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="student_leaves_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    @classmethod
    def from_db(cls, db: str | None, field_names: Collection[str], values: Collection[Any], **more: Any) -> Self:
        """As Django loads it; that it was loaded is noted (caseload.plans.shown)."""
        row = super().from_db(db, field_names, values, **more)
        shown_note(row.pk)
        return row

    def __str__(self) -> str:
        """The code only: this ends up in logs and error pages."""
        return self.code

    @property
    def marked_code(self) -> str:
        """The code as sentences that are kept carry it, so that each reader is told what they may know."""
        return marked(self.code)

    @property
    def full_name(self) -> str:
        """First and last name, for pages that the viewer may see."""
        return f"{self.first_name} {self.last_name}"

    @property
    def initials(self) -> str:
        """Initials with points, such as ``R.T.``."""
        return "".join(f"{name[0]}." for name in (self.first_name, self.last_name) if name)

    def clean(self) -> None:
        """Refuse parents of another district and a home class in another building."""
        if self.building_id and self.building.district_id != self.district_id:
            raise ValidationError({"building": "This building belongs to another district."}, code="other_district")
        if self.home_class is not None and self.home_class.building_id != self.building_id:
            raise ValidationError(
                {"home_class": "This class is in another building. Change the building or the class."},
                code="other_building",
            )
        if self.caseload_teacher_id and self.caseload_teacher.district_id != self.district_id:
            raise ValidationError(
                {"caseload_teacher": "This teacher isn't in the district."}, code="other_district"
            )


class StudentHoldQuerySet(ScopedQuerySet["StudentHold"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "StudentHoldQuerySet":
        """Holds of the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))


class StudentHold(models.Model):
    """A time when a student can't be taken.

    Either clock times (`start` and `end`, local) or the name of a period of the building's bells; on the days
    named in `days` (``Mon,Wed``, ``Day 3``, ``A``), or every day if that is empty.
    """

    class Reason(models.TextChoices):
        """Why the student can't be taken."""

        LUNCH = "lunch", "Lunch"
        CORE = "core", "Core instruction that the team protected"
        PT = "pt", "Physical therapy"
        OT = "ot", "Occupational therapy"
        SPEECH = "speech", "Speech"
        OTHER = "other", "Other"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="holds")
    reason = models.CharField(max_length=8, choices=Reason, default=Reason.CORE)
    days = models.CharField(
        max_length=60, blank=True, help_text="Such as Mon,Wed, Day 3, A, A Mon or first Wed; empty for every day."
    )
    period = models.CharField(max_length=40, blank=True, help_text="Name of a period of the building's bells.")
    start = models.TimeField(null=True, blank=True)
    end = models.TimeField(null=True, blank=True)
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)

    objects = StudentHoldQuerySet.as_manager()

    class Meta:
        verbose_name = "time when a student can't be taken"
        verbose_name_plural = "times when students can't be taken"
        ordering = ["student", "start", "period"]

    def __str__(self) -> str:
        return f"{self.get_reason_display()} {self.days} {self.period or self.start}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    def clean(self) -> None:
        """Ask for a period or for both clock times, not both ways."""
        clock = self.start is not None and self.end is not None
        if bool(self.period) == clock or (not clock and (self.start or self.end)):
            raise ValidationError("Give either a period or both a start and an end.", code="period_or_clock")
        if self.start is not None and self.end is not None and self.end <= self.start:
            raise ValidationError({"end": "The end is before the start."}, code="ends_before_start")
