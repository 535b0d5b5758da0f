"""What was asked for to be done whole in the background, by whom, and why it was refused."""

from django.db import models

from accounts.models import DistrictRow, ForCoordinatorsQuerySet, Person
from jobs.models import Job


class LongStep(DistrictRow):
    """One step that is done whole by a job, or not at all.

    ``number`` is the id of what it is about: a coming school year or a proposal who serves whom; ``role`` that
    in which it was asked for. ``refused`` holds sentences without names, by themselves and by the id of a student.
    """

    class Kind(models.TextChoices):
        """What is done."""

        START_YEAR = "start_year", "Starting a school year"
        YEAR_BACK = "year_back", "Taking a school year back"
        TAKE_OVER = "take_over", "Handing students over"
        TAKE_OVER_BACK = "take_over_back", "Taking hand-overs back"

    kind = models.CharField(max_length=14, choices=Kind)
    number = models.PositiveBigIntegerField(help_text="Of the school year or the proposal.")
    title = models.CharField(max_length=160, help_text="What the school year or the proposal is called.")
    parts = models.PositiveIntegerField(default=0, help_text="Students or hand-overs that it writes.")
    revision = models.PositiveIntegerField(default=0, help_text="As it was seen when it was asked for.")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12, choices=Person.Role)
    asked_at = models.DateTimeField(auto_now_add=True)
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="long_step")
    refused = models.JSONField(default=dict, blank=True)

    objects = ForCoordinatorsQuerySet["LongStep"].as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]
        indexes = [models.Index(fields=["district", "kind", "number"])]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.title}"
