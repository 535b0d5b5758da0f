"""What was counted of a teacher's services, week by week, so that a page adds up rows and reads no ledger.

No student stands in any of it. A week's rows are counted anew while the week lasts and stay as they are afterward.
"""

from typing import Self

from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet
from caseload.plans.models import ServiceLine
from travel.places.models import Building


class TeacherCountQuerySet(ScopedQuerySet["TeacherCount"]):
    """The coordinator's; nobody else is shown a district's figures."""

    def narrowed_for(self, viewer: Person) -> Self:
        """All of the district, or none."""
        return self if viewer.is_coordinator else self.none()


class TeacherCount(DistrictRow):
    """One teacher's figures of a week, as of a moment. What the week in force holds is in minutes and miles.

    `change` is the number of the district's latest change that is in it; `contract` is empty without contract days.
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="counts")
    monday = models.DateField(help_text="The week's first day.")
    last_date = models.DateField(help_text="Up to which date minutes are counted.")
    counted_at = models.DateTimeField(help_text="UTC")
    change = models.PositiveBigIntegerField(default=0)
    students = models.PositiveIntegerField(default=0)
    schools = models.PositiveIntegerField(default=0)
    worked = models.PositiveIntegerField(default=0, help_text="Minutes of the week in force, all kinds.")
    contract = models.PositiveIntegerField(null=True, blank=True, help_text="Minutes a week without lunch.")
    wheel = models.PositiveIntegerField(default=0, help_text="Minutes at the wheel.")
    miles = models.DecimalField(max_digits=8, decimal_places=1, default=0)
    unplaced = models.PositiveIntegerField(default=0, help_text="Minutes of the week that found no place.")

    objects = TeacherCountQuerySet.as_manager()

    class Meta:
        ordering = ["-monday", "teacher"]
        constraints = [models.UniqueConstraint(fields=["teacher", "monday"], name="teacher_count_once")]
        indexes = [models.Index(fields=["district", "monday"], name="teacher_count_week")]

    def __str__(self) -> str:
        return f"Week of {self.monday}"


class OfTeacherCountQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through what they are a part of."""

    def visible_to(self, viewer: object) -> Self:
        """Parts of the counts that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(count__in=TeacherCount.objects.visible_to(viewer))


class CountedServices(models.Model):
    """A teacher's services of one sort in one building: minutes since the school year began (`MinuteFigures`).

    `short` are minutes that the forecast says will be missing, of the `services_short`.
    """

    count = models.ForeignKey(TeacherCount, on_delete=models.CASCADE, related_name="services")
    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+")
    service_type = models.CharField(max_length=12, choices=ServiceLine.Type)
    services = models.PositiveIntegerField(default=0)
    services_behind = models.PositiveIntegerField(default=0)
    services_short = models.PositiveIntegerField(default=0)
    owed = models.IntegerField(default=0)
    delivered = models.IntegerField(default=0)
    made_up = models.IntegerField(default=0)
    missed = models.IntegerField(default=0)
    not_owed = models.IntegerField(default=0)
    undecided = models.IntegerField(default=0)
    unlogged = models.IntegerField(default=0)
    behind = models.IntegerField(default=0)
    opening = models.IntegerField(default=0)
    short = models.IntegerField(default=0)

    objects = OfTeacherCountQuerySet["CountedServices"].as_manager()

    class Meta:
        verbose_name_plural = "counted services"
        constraints = [
            models.UniqueConstraint(fields=["count", "building", "service_type"], name="counted_services_once")
        ]

    def __str__(self) -> str:
        return f"{self.services} services"


class CountedMissed(models.Model):
    """Minutes of those services that were missed for one reason."""

    part = models.ForeignKey(CountedServices, on_delete=models.CASCADE, related_name="missed_for")
    reason = models.CharField(max_length=40, help_text="The reason's code.")
    minutes = models.PositiveIntegerField()

    class Meta:
        verbose_name_plural = "counted missed minutes"
        constraints = [models.UniqueConstraint(fields=["part", "reason"], name="counted_missed_once")]

    def __str__(self) -> str:
        return f"{self.minutes} minutes"


class CountedCause(models.Model):
    """What waits with one teacher, by kind and cause: the sentence that names no student, and how much it is."""

    count = models.ForeignKey(TeacherCount, on_delete=models.CASCADE, related_name="causes")
    kind = models.PositiveSmallIntegerField(help_text="As on the attention page (schedule.attention).")
    cause = models.TextField(blank=True)
    words = models.TextField()
    things = models.PositiveIntegerField(default=1)
    services = models.PositiveIntegerField(default=0)
    minutes = models.PositiveIntegerField(default=0)
    due = models.DateField()

    objects = OfTeacherCountQuerySet["CountedCause"].as_manager()

    class Meta:
        ordering = ["kind", "due", "id"]
        indexes = [models.Index(fields=["kind"], name="counted_cause_kind")]

    def __str__(self) -> str:
        return self.words
