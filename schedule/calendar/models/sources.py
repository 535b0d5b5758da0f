"""The district's school calendar by address: read again and again; what it brings is saved by a decision."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.models import DistrictRow, Person
from schedule.calendar.models.entries import PlainScopedQuerySet
from travel.places.models import Building


class CalendarSource(DistrictRow):
    """An address of a published school calendar, with its last good reading.

    `keeper` is in whose name days are saved by themselves. `settled` holds the events that were decided about
    (first date, last date, title; dates in ISO 8601), `waiting` what the last reading brought beyond them.
    """

    title = models.CharField(max_length=60, help_text="What you call it, such as District website.")
    address = models.URLField(
        max_length=500, help_text="What “subscribe” on the school's website leads to: https:// or webcal://."
    )
    building = models.ForeignKey(
        Building,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty for the whole district.",
    )
    applies_alone = models.BooleanField(
        "save recognized days automatically",
        default=False,
        help_text="Closures, delays and early dismissals from today on that are clear-cut. You are asked about "
        "the others; what was taken out of the calendar and the ends of the school year wait for you as well.",
    )
    keeper = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    added_at = models.DateTimeField(auto_now_add=True)
    asked_at = models.DateTimeField(null=True, blank=True, editable=False)
    read_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Of the last good reading, UTC."
    )
    problem = models.CharField(max_length=400, blank=True, editable=False, help_text="Why the last reading failed.")
    left_out = models.JSONField(
        default=list,
        blank=True,
        editable=False,
        help_text="Sentences about what of the last good reading was left out.",
    )
    label_notes = models.JSONField(
        default=list,
        db_default=[],
        blank=True,
        editable=False,
        help_text="Sentences about cycle days of the last good reading: where they differ from schools' rotations.",
    )
    content = models.BinaryField(default=bytes, help_text="The calendar as it was last read well.")
    settled = models.JSONField(default=list, blank=True, editable=False)
    waiting = models.JSONField(default=dict, blank=True, editable=False, encoder=DjangoJSONEncoder)

    objects = PlainScopedQuerySet["CalendarSource"].as_manager()

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "title"],
                name="calendar_source_once",
                violation_error_message="There is already a calendar with this name.",
            ),
        ]

    def __str__(self) -> str:
        return self.title
