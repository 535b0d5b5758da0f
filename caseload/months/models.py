"""Months of a teacher's log: open, signed or closed, with everything that was done to each, and who did it when.

What was signed is kept with the signature (`LogMonthAct.content`), and told apart from what stands now by its
digest. No name of a student and no note stands in it.
"""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet


class LogMonthRules(DistrictRow):
    """What a district does about changes in a closed month; without a row they are refused."""

    class Afterwards(models.TextChoices):
        """What a change in a closed month does."""

        REFUSE = "refuse", "It is refused until the month is reopened"
        AMEND = "amend", "It is kept as a dated amendment, shown beside the original"

    afterwards = models.CharField(max_length=8, choices=Afterwards, default=Afterwards.REFUSE)

    objects = ScopedQuerySet["LogMonthRules"].as_manager()

    class Meta:
        verbose_name = "rules of closed months"
        verbose_name_plural = "rules of closed months"
        constraints = [models.UniqueConstraint(fields=["district"], name="log_month_rules_once")]

    def __str__(self) -> str:
        return "Rules of closed months"


class LogMonthQuerySet[M: models.Model](ScopedQuerySet[M]):
    """A teacher's own months, and for a coordinator the district's."""

    def narrowed_for(self, viewer: Person) -> Self:
        """The own ones unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(teacher=viewer)


class LogMonth(DistrictRow):
    """A month of the services that one teacher gives. Without a row it is open.

    `revision` rises with everything that is done to it, so that two people are noticed.
    """

    class Status(models.TextChoices):
        """How far it is."""

        OPEN = "open", "Open"
        SIGNED = "signed", "Signed"
        CLOSED = "closed", "Closed"

    teacher = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="log_months")
    month = models.DateField(help_text="Its first day.")
    status = models.CharField(max_length=8, choices=Status, default=Status.OPEN)
    revision = models.PositiveIntegerField(default=1)

    objects = LogMonthQuerySet["LogMonth"].as_manager()

    class Meta:
        verbose_name = "month of the log"
        verbose_name_plural = "months of the log"
        ordering = ["-month", "teacher"]
        constraints = [
            models.UniqueConstraint(fields=["teacher", "month"], name="log_month_once"),
        ]

    def __str__(self) -> str:
        return f"{self.month:%B %Y}"

    def clean(self) -> None:
        """A month is kept by its first day. No constraint: one on a part of a date keeps SQLite's file from being
        checked by anything but this program."""
        if self.month is not None and self.month.day != 1:
            raise ValidationError({"month": "Give the month's first day."})

    @property
    def is_closed(self) -> bool:
        """Whether changes in it are held up."""
        return self.status == self.Status.CLOSED


class LogMonthActQuerySet(ScopedQuerySet["LogMonthAct"]):
    """Rows scoped through their month."""

    def visible_to(self, viewer: object) -> "LogMonthActQuerySet":
        """What was done to the months that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(month__in=LogMonth.objects.visible_to(viewer))


class LogMonthAct(models.Model):
    """A month was signed, closed or reopened: never edited, so that the history stays.

    `content` is what was signed or closed, `digest` the SHA-256 of its canonical form (schedule.closing.content).
    """

    class Act(models.TextChoices):
        """What was done."""

        SIGNED = "signed", "Signed"
        CLOSED = "closed", "Closed"
        REOPENED = "reopened", "Reopened"

    month = models.ForeignKey(LogMonth, on_delete=models.PROTECT, related_name="acts")
    act = models.CharField(max_length=8, choices=Act)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(help_text="UTC")
    name = models.CharField(max_length=120, blank=True, help_text="As the signer typed it.")
    reason = models.CharField(max_length=300, blank=True, help_text="Why it was reopened, or closed unsigned.")
    digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the content, as 64 hex digits.")
    content = models.JSONField(default=dict, blank=True)

    objects = LogMonthActQuerySet.as_manager()

    class Meta:
        verbose_name = "act on a month of the log"
        verbose_name_plural = "acts on months of the log"
        ordering = ["month", "at", "id"]

    def __str__(self) -> str:
        return f"{self.get_act_display()} {self.at:%Y-%m-%d}"


def month_of(day: dt.date) -> dt.date:
    """The first day of a date's month."""
    return day.replace(day=1)
