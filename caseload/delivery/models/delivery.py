"""The delivery log: what happened to each planned session of a service line, version by version.

An entry says what was planned and never changes; what happened is in its versions. A correction adds a version;
nothing is edited or deleted. Notes are for pages that the viewer may see, never for addresses or logs.
"""

from django.core.validators import MaxLengthValidator, MaxValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.dates import date_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.delivery.models.compensatory import CompensatoryTime
from caseload.delivery.models.rules import MissedReason
from caseload.plans.models.enrollment import Enrollment
from caseload.plans.models.plan import ServiceLine
from caseload.plans.models.student import Student
from travel.places.models import Building, reviewed_at


class DeliveryEntryQuerySet(ScopedQuerySet["DeliveryEntry"]):
    """Scoped through the student."""

    def visible_to(self, viewer: object) -> "DeliveryEntryQuerySet":
        """Entries of the students whom the viewer may see; for a reviewer of the buildings and dates alone."""
        if not isinstance(viewer, Person):
            return self.none()
        rows = self.filter(student__in=Student.objects.visible_to(viewer))
        return rows.filter(self._reviewed(viewer)) if viewer.is_reviewer else rows

    def _reviewed(self, viewer: Person) -> Q:
        """Where the student was on the entry's date, by enrollments or else by the record, is reviewed for it."""
        stays = Enrollment.objects.filter(
            Q(first_day__isnull=True) | Q(first_day__lte=OuterRef("date")),
            Q(last_day__isnull=True) | Q(last_day__gte=OuterRef("date")),
            student=OuterRef("student"),
        )
        dated = stays.annotate(day=OuterRef("date")).filter(reviewed_at(viewer, "building", "day"))
        enrolled = Exists(Enrollment.objects.filter(student=OuterRef("student")))
        return Q(Exists(dated)) | (~Q(enrolled) & Q(reviewed_at(viewer, "student__building", "date")))

    def given_for(self, teacher: Person) -> "DeliveryEntryQuerySet":
        """The sessions that a teacher answers for: by the provider kept with each, else by its service's.

        A service that somebody else gives today changes nothing of the months before.
        """
        return self.filter(Q(provider=teacher) | Q(provider__isnull=True, service_line__provider=teacher))


class DeliveryEntry(models.Model):
    """One service line at one planned session or make-up: what was planned.

    `client_id` is made by whoever sends the entry: the same one sent twice is stored once. `session_uid` is the
    planned session's, known by the floor above only; empty where nothing was planned. `version` is the number of
    the version that counts; `revision` rises with every correction and decision, so that two people are noticed.
    """

    client_id = models.UUIDField(unique=True)
    service_line = models.ForeignKey(ServiceLine, on_delete=models.PROTECT, related_name="entries")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="entries")
    provider = models.ForeignKey(
        Person,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        help_text="The teacher whose session it was, whoever has the service since.",
    )
    session_uid = models.UUIDField(null=True, blank=True, db_index=True)
    date = models.DateField(help_text="Of the session, local to the building.")
    start = models.TimeField(null=True, blank=True, help_text="Local to the building.")
    planned_minutes = models.PositiveSmallIntegerField(validators=[MaxValueValidator(480)])
    setting = models.CharField(max_length=12, choices=ServiceLine.Setting)
    makes_up = models.BooleanField(default=False, help_text="Makes up minutes that were owed before.")
    compensatory = models.ForeignKey(
        CompensatoryTime,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="entries",
        help_text="The compensatory time that it gives; such minutes answer no service.",
    )
    makes_up_for = models.DateField(null=True, blank=True, help_text="The session that it makes up, if one.")
    version = models.PositiveIntegerField(default=1)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = DeliveryEntryQuerySet.as_manager()

    class Meta:
        verbose_name = "log entry"
        verbose_name_plural = "log entries"
        ordering = ["date", "start", "id"]
        indexes = [
            models.Index(fields=["service_line", "date"], name="entry_line_date"),
            models.Index(fields=["student", "date"], name="entry_student_date"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["service_line", "session_uid"],
                condition=Q(session_uid__isnull=False),
                name="entry_once_a_session",
                violation_error_message="This session is logged already. Correct its entry instead.",
            ),
            models.CheckConstraint(
                condition=Q(makes_up=True) | Q(makes_up_for__isnull=True),
                name="entry_makes_up_for_a_day",
                violation_error_message="Only a make-up can name a day that it makes up for.",
            ),
        ]

    def __str__(self) -> str:
        return f"Log of {date_words(self.date)}"

    @property
    def building(self) -> Building:
        """Where the student was on its date."""
        return self.service_line.building_on(self.date)

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district


class OfEntryQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their entry's student."""

    def visible_to(self, viewer: object) -> "OfEntryQuerySet[M]":
        """Rows about the entries that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        if viewer.is_reviewer:
            return self.filter(entry__in=DeliveryEntry.objects.visible_to(viewer))
        return self.filter(entry__student__in=Student.objects.visible_to(viewer))


class DeliveryVersionQuerySet(OfEntryQuerySet["DeliveryVersion"]):
    """Scoped, and those that count."""

    def current(self) -> "DeliveryVersionQuerySet":
        """Of each entry, the version that counts."""
        return self.filter(number=F("entry__version"))


class DeliveryVersion(models.Model):
    """What one person said happened. Never edited: a correction is the next version and names what it replaces.

    No delivered minutes: the log was withdrawn, and the session waits for its log again. `client_id` is made by
    whoever sends a correction, so that the same one sent twice is stored once. `sending` is the id under which
    one tap wrote this version, alone or with others, so that it can be taken back as a whole.
    """

    client_id = models.UUIDField(null=True, blank=True, unique=True)
    sending = models.UUIDField(
        null=True, blank=True, db_index=True, help_text="What one tap logged together; empty for corrections."
    )
    entry = models.ForeignKey(DeliveryEntry, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveIntegerField(default=1)
    delivered_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(480)], help_text="Empty: withdrawn, not logged."
    )
    reason = models.ForeignKey(
        MissedReason,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="versions",
        help_text="Why minutes were missed.",
    )
    note = models.TextField(blank=True, max_length=1000, validators=[MaxLengthValidator(1000)])
    given_by = models.CharField(
        max_length=120, blank=True, help_text="Who gave it, if not the provider: a substitute or an assistant."
    )
    given_under = models.CharField(max_length=120, blank=True, help_text="Under whom an assistant gave it.")
    logged_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    logged_at = models.DateTimeField(auto_now_add=True, help_text="UTC")
    noted_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="UTC. When it was noted, if it was sent later."
    )
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )

    objects = DeliveryVersionQuerySet.as_manager()

    class Meta:
        verbose_name = "version of a log entry"
        verbose_name_plural = "versions of log entries"
        ordering = ["entry", "number"]
        constraints = [
            models.UniqueConstraint(fields=["entry", "number"], name="delivery_version_once"),
        ]

    def __str__(self) -> str:
        return f"Version {self.number}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.entry.student.district


class TeamDecision(models.Model):
    """What the plan's team decided about missed minutes whose reason leaves it to them.

    It holds for the reason that it was made about; a later decision about the same one replaces it, and both stay.
    """

    class Effect(models.TextChoices):
        """What was decided."""

        OWED = MissedReason.Effect.OWED.value, "Owed"
        NOT_OWED = MissedReason.Effect.NOT_OWED.value, "Not owed"

    entry = models.ForeignKey(DeliveryEntry, on_delete=models.CASCADE, related_name="decisions")
    reason = models.ForeignKey(MissedReason, on_delete=models.PROTECT, related_name="decisions")
    effect = models.CharField(max_length=12, choices=Effect)
    decided_by = models.CharField(
        max_length=120, help_text="Who decided: the team, with its meeting if there was one."
    )
    decided_on = models.DateField(help_text="The day of the decision.")
    note = models.TextField(blank=True, max_length=1000, validators=[MaxLengthValidator(1000)])
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True, help_text="UTC")

    objects = OfEntryQuerySet["TeamDecision"].as_manager()

    class Meta:
        verbose_name = "decision of the team"
        verbose_name_plural = "decisions of the team"
        ordering = ["entry", "recorded_at", "id"]

    def __str__(self) -> str:
        return f"{self.get_effect_display()} ({self.decided_on})"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.entry.student.district
