"""What a district decides about its minutes: what a missed session does, and the rules of its ledger."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from accounts.models import DistrictRow, ScopedQuerySet
from caseload.ledger.terms import Effect, LedgerRules, ShortWeek


class MissedReason(DistrictRow):
    """A reason for missed minutes, and what it does to them in this district.

    There is no federal rule that a missed session is owed (OSEP Letter to Clarke, March 8, 2007): the table is the
    district's, and what ships with the program is common practice, not law.
    """

    class Effect(models.TextChoices):
        """What the missed minutes do (the values of caseload.ledger.ledger.Effect)."""

        OWED = Effect.OWED.value, "Stays owed"
        NOT_OWED = Effect.NOT_OWED.value, "Not owed"
        TEAM = Effect.TEAM.value, "The team decides"

    code = models.SlugField(max_length=24, help_text="Short and unique in the district, such as trip.")
    words = models.CharField(max_length=80, help_text="What people choose, such as assembly or trip.")
    effect = models.CharField(max_length=12, choices=Effect, default=Effect.TEAM)
    position = models.PositiveSmallIntegerField(default=100, help_text="Small numbers come first in the list.")

    objects = ScopedQuerySet["MissedReason"].as_manager()

    class Meta:
        verbose_name = "reason for missed minutes"
        verbose_name_plural = "reasons for missed minutes"
        ordering = ["position", "words"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "code"],
                name="missed_reason_code_once",
                violation_error_message="Another reason has this code.",
            ),
            models.CheckConstraint(
                condition=Q(effect__in=[one.value for one in Effect]),
                name="missed_reason_effect_known",
                violation_error_message="Choose owed, not owed or the team decides.",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class LedgerSettings(DistrictRow):
    """The rules of a district's ledger; one row a district."""

    class ShortWeek(models.TextChoices):
        """What a week with closed days owes (the values of caseload.ledger.ledger.ShortWeek)."""

        WHOLE = ShortWeek.WHOLE.value, "The whole week's minutes"
        PROPORTION = ShortWeek.PROPORTION.value, "In proportion to the days in session"
        ANY_DAY = ShortWeek.ANY_DAY.value, "The whole, if any day is in session"
        AS_SCHEDULED = ShortWeek.AS_SCHEDULED.value, "What is scheduled"

    short_week = models.CharField(max_length=12, choices=ShortWeek, default=ShortWeek.WHOLE)
    carry_ahead = models.BooleanField(
        default=False, help_text="Minutes above what a period owes count for other periods."
    )
    counts_from = models.DateField(
        null=True,
        blank=True,
        help_text="The day from which minutes are counted. Empty: from the first week that was published.",
    )
    backdating_days = models.PositiveSmallIntegerField(
        default=30,
        validators=[MaxValueValidator(366)],
        help_text="How many days back a session may be logged or corrected; coordinators have no limit.",
    )
    make_up_days = models.PositiveSmallIntegerField(
        default=30,
        validators=[MinValueValidator(1), MaxValueValidator(366)],
        help_text="Days within which missed minutes should be made up.",
    )

    objects = ScopedQuerySet["LedgerSettings"].as_manager()

    class Meta:
        verbose_name = "rules of the ledger"
        verbose_name_plural = "rules of the ledger"
        constraints = [
            models.UniqueConstraint(fields=["district"], name="ledger_settings_once"),
        ]

    def __str__(self) -> str:
        return "Rules of the ledger"

    def clean(self) -> None:
        """A district's rules are in one row."""
        others = LedgerSettings.objects.filter(district_id=self.district_id).exclude(pk=self.pk)
        if others.exists():
            raise ValidationError("This district has its rules already. Change those.", code="rules_once")

    def rules(self, reasons: "models.QuerySet[MissedReason] | list[MissedReason]") -> LedgerRules:
        """The rules for the ledger's core, with these reasons' effects by their codes."""
        effects = {reason.code: Effect(reason.effect) for reason in reasons}
        words = {reason.code: reason.words.lower() for reason in reasons}
        return LedgerRules(ShortWeek(self.short_week), effects, self.carry_ahead, words)
