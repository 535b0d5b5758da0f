"""Progress reports: drafted by the program, worded and signed by a person."""

import datetime as dt

from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxLengthValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import span_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models import Student
from caseload.progress.models import StudentGoal

LONGEST = 2000


class ProgressReportQuerySet(ScopedQuerySet["ProgressReport"]):
    """Scoped through the student; no team opens them: whoever drafts and signs them holds the student."""

    def visible_to(self, viewer: object) -> "ProgressReportQuerySet":
        """Reports about the students who are the viewer's to change."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.changeable_by(viewer))

    def kept(self) -> "ProgressReportQuerySet":
        """Those that weren't removed."""
        return self.filter(removed_at__isnull=True)


class ProgressReport(models.Model):
    """What is told of one student's progress in some dates: for a marking period, or for the annual meeting.

    34 CFR 300.320(a)(3)(ii) asks for periodic reports on progress, such as with report cards. A draft holds
    sentences that were made from data; nothing of it is printed or sent before a person has read each of them and
    signed. `content` is what stood in it when it was signed (figures, charts and sentences), and never changes with
    later data. `revision` rises with every change, so that two people are noticed.
    """

    class Kind(models.TextChoices):
        """What it is for."""

        PERIOD = "period", "Marking period"
        ANNUAL = "annual", "Annual meeting"

    class Language(models.TextChoices):
        """In which the family reads its version."""

        ENGLISH = "en", "English"
        SPANISH = "es", "Spanish"

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="progress_reports")
    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=80, help_text="Such as the marking period's.")
    first_day = models.DateField()
    last_day = models.DateField()
    family_language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    revision = models.PositiveIntegerField(default=1)
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True, help_text="UTC")
    signed_name = models.CharField(max_length=120, blank=True, help_text="As the person typed it.")
    content = models.JSONField(
        default=dict, blank=True, encoder=DjangoJSONEncoder, help_text="Figures and sentences as they were signed."
    )
    removed_at = models.DateTimeField(null=True, blank=True, editable=False, help_text="UTC. Can be brought back.")

    objects = ProgressReportQuerySet.as_manager()

    class Meta:
        verbose_name = "progress report"
        verbose_name_plural = "progress reports"
        ordering = ["-last_day", "student", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="progress_report_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
            models.UniqueConstraint(
                fields=["student", "kind", "first_day"],
                condition=Q(removed_at__isnull=True),
                name="progress_report_once",
                violation_error_message="There is a report of this kind from this day already. Open that one.",
            ),
        ]

    def __str__(self) -> str:
        """Without the student: this ends up in logs and error pages."""
        return f"{self.name}, {span_words(self.first_day, self.last_day)}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    @property
    def is_signed(self) -> bool:
        """Whether it may be printed and sent."""
        return self.signed_at is not None

    def is_over(self, today: dt.date) -> bool:
        """Whether its last day has passed."""
        return self.last_day < today


class ReportSentenceQuerySet(ScopedQuerySet["ReportSentence"]):
    """Scoped through the report's student."""

    def visible_to(self, viewer: object) -> "ReportSentenceQuerySet":
        """Sentences about the students who are the viewer's to change."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(report__student__in=Student.objects.changeable_by(viewer))


class ReportSentence(models.Model):
    """A few sentences of a report about one thing, as the program drafted them and as a person words them.

    Left out where the text is empty. `read_at`: a person has read it as it stands now.
    """

    class Audience(models.TextChoices):
        """Whom it is written for."""

        TEAM = "team", "The plan's team"
        FAMILY = "family", "The family"

    class Topic(models.TextChoices):
        """What it is about."""

        MINUTES = "minutes", "Minutes"
        ATTENDANCE = "attendance", "Attendance"
        GOAL = "goal", "Goal"
        MORE = "more", "Anything else"

    report = models.ForeignKey(ProgressReport, on_delete=models.CASCADE, related_name="sentences")
    audience = models.CharField(max_length=6, choices=Audience)
    language = models.CharField(
        max_length=2, choices=ProgressReport.Language, default=ProgressReport.Language.ENGLISH
    )
    topic = models.CharField(max_length=10, choices=Topic)
    goal = models.ForeignKey(StudentGoal, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    position = models.PositiveSmallIntegerField(default=0)
    drafted = models.TextField(blank=True, help_text="What the program drafted from the data.")
    text = models.TextField(blank=True, max_length=LONGEST, validators=[MaxLengthValidator(LONGEST)])
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    read_at = models.DateTimeField(null=True, blank=True, help_text="UTC")

    objects = ReportSentenceQuerySet.as_manager()

    class Meta:
        verbose_name = "sentence of a report"
        verbose_name_plural = "sentences of a report"
        ordering = ["report", "audience", "position", "id"]

    def __str__(self) -> str:
        return f"{self.get_topic_display()} for {self.get_audience_display().lower()}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.report.student.district

    @property
    def is_edited(self) -> bool:
        """Whether a person has worded it otherwise than the program."""
        return self.text != self.drafted
