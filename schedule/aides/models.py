"""The hours of aides: those among the contacts of students and classes."""

from django.core.exceptions import ValidationError
from django.db import models

from accounts.models import District, Person, ScopedQuerySet
from caseload.care.models import Contact
from schedule.aides.hours import HoursError, hours_words, read_hours


class AideHoursQuerySet(ScopedQuerySet["AideHours"]):
    """Scoped through the contact."""

    def visible_to(self, viewer: object) -> "AideHoursQuerySet":
        """Hours of the aides whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(contact__in=Contact.objects.visible_to(viewer))


class AideHours(models.Model):
    """When an aide is there from a first day on, until the next one's first day; what was before is kept.

    `times` as `schedule.aides.hours` reads them, in its own words; empty: not there at all from then on. An aide
    with hours isn't deleted among the contacts: the hours go first.
    """

    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="aide_hours", verbose_name="aide")
    first_day = models.DateField("from", help_text="The first day on which these hours hold.")
    times = models.CharField(
        "hours", max_length=300, blank=True,
        help_text="Days and times, such as Mon-Thu 8:00 to 11:30; Fri 8:00 to 10:00. Cycle days and A and B weeks "
        "as the school names them (Day 3, A Mon). Empty: not there at all from that day on.",
    )  # fmt: skip

    objects = AideHoursQuerySet.as_manager()

    class Meta:
        verbose_name = "aide's hours"
        verbose_name_plural = "aides' hours"
        ordering = ["contact", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["contact", "first_day"],
                name="aide_hours_once_from_a_day",
                violation_error_message="Hours from this day are there already. Change those.",
            ),
        ]

    def __str__(self) -> str:
        return f"Hours from {self.first_day}"

    @property
    def district(self) -> District:
        """The district of the student or of the class."""
        return self.contact.district

    def clean(self) -> None:
        """Only an aide has hours; they are kept in the words in which they are shown."""
        if self.contact.role != Contact.Role.AIDE:
            raise ValidationError({"contact": "Only an aide among the contacts has hours here."}, code="no_aide")
        try:
            self.times = hours_words(read_hours(self.times))
        except HoursError as error:
            raise ValidationError({"times": str(error)}, code="unreadable") from error
