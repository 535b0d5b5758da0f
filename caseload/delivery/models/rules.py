"""What a district decides about its minutes: what a missed session does, and the rules of its ledger, by date."""

import datetime as dt
from collections.abc import Iterable, Mapping

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from accounts.dates import date_words
from accounts.models import District, DistrictRow, Person, ScopedQuerySet
from caseload.ledger import terms
from caseload.ledger.defaults import LEAST_MINUTES, MOST_USUAL_TIMES_WORTH, USUAL_TIMES_WORTH
from caseload.ledger.terms import DEFAULT_SHORT_WEEK, SHORT_WEEK_WORDS, Effect, LedgerRules, ShortWeek
from travel.mileage.models import SINCE_EVER


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
    effect = models.CharField(
        max_length=12, choices=Effect, default=Effect.TEAM, help_text="Until the first day on which it changes."
    )
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

    def effect_on(self, day: dt.date) -> terms.Effect:
        """What it does to minutes missed on a date."""
        begun = [one for one in (self.effects.all() if self.pk else ()) if one.first_day <= day]
        return terms.Effect(max(begun, key=lambda one: one.first_day).effect if begun else self.effect)


class ReasonEffectQuerySet(ScopedQuerySet["ReasonEffect"]):
    """Rows scoped through their reason."""

    def visible_to(self, viewer: object) -> "ReasonEffectQuerySet":
        """Those of the viewer's district."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(reason__in=MissedReason.objects.visible_to(viewer))


class ReasonEffect(models.Model):
    """What a reason does from a day on, until its next first day."""

    reason = models.ForeignKey(MissedReason, on_delete=models.CASCADE, related_name="effects")
    first_day = models.DateField(help_text="The first date of a session that it holds for.")
    effect = models.CharField(max_length=12, choices=MissedReason.Effect)

    objects = ReasonEffectQuerySet.as_manager()

    class Meta:
        verbose_name = "effect of a reason"
        verbose_name_plural = "effects of a reason"
        ordering = ["reason", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["reason", "first_day"],
                name="reason_effect_once",
                violation_error_message="It already changes on this day: change that one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reason} from {date_words(self.first_day)}"

    @property
    def district(self) -> District:
        """The reason's district."""
        return self.reason.district


class LedgerSettings(DistrictRow):
    """The rules of a district's ledger from a day on, until its next rules begin."""

    class ShortWeek(models.TextChoices):
        """What a week with closed days owes (the values of caseload.ledger.terms.ShortWeek)."""

        WHOLE = ShortWeek.WHOLE.value, SHORT_WEEK_WORDS[ShortWeek.WHOLE].capitalize()
        PROPORTION = ShortWeek.PROPORTION.value, SHORT_WEEK_WORDS[ShortWeek.PROPORTION].capitalize()
        AS_SCHEDULED = ShortWeek.AS_SCHEDULED.value, SHORT_WEEK_WORDS[ShortWeek.AS_SCHEDULED].capitalize()

    first_day = models.DateField(
        default=SINCE_EVER, help_text="The first day that these rules hold for. Days before it keep theirs."
    )
    short_week = models.CharField(max_length=12, choices=ShortWeek, default=DEFAULT_SHORT_WEEK.value)
    carry_ahead = models.BooleanField(
        default=False, help_text="Minutes above what a period owes count for other periods."
    )
    counts_from = models.DateField(
        null=True,
        blank=True,
        help_text="The day from which minutes are counted. Empty: from the first week that was published.",
    )
    least_minutes = models.PositiveSmallIntegerField(
        default=LEAST_MINUTES,
        validators=[MaxValueValidator(60)],
        help_text=(
            "The shortest session. Where a service owes only a share of a week or month, fewer minutes than this "
            "that are left over are shown as rounding and not owed. 0: every minute stays owed."
        ),
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
    under_required = models.BooleanField(
        default=False,
        help_text="A session that a substitute or an assistant gave is logged with under whom it was given.",
    )
    usual_times_worth = models.PositiveSmallIntegerField(
        default=USUAL_TIMES_WORTH,
        validators=[MaxValueValidator(MOST_USUAL_TIMES_WORTH)],
        help_text=(
            "Terms that begin from this day on keep usual times unless leaving them saves at least so many minutes "
            "of driving a week. A teacher may choose another number."
        ),
    )

    objects = ScopedQuerySet["LedgerSettings"].as_manager()

    class Meta:
        verbose_name = "rules of the ledger"
        verbose_name_plural = "rules of the ledger"
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "first_day"],
                name="ledger_settings_once_a_day",
                violation_error_message="Other rules already begin on this day: change those.",
            ),
        ]

    def __str__(self) -> str:
        return f"Rules of the ledger from {date_words(self.first_day)}"

    def rules_on(self, reasons: Iterable[MissedReason], day: dt.date) -> LedgerRules:
        """The rules for the ledger's core, with what these reasons do on a date, by their codes."""
        reasons = list(reasons)
        effects = {reason.code: reason.effect_on(day) for reason in reasons}
        words = {reason.code: reason.words.lower() for reason in reasons}
        return self.rules_with(effects, words)

    def rules_with(self, effects: Mapping[str, Effect], words: Mapping[str, str]) -> LedgerRules:
        """The rules for the ledger's core, with what reasons do and how they are called, by their codes."""
        return LedgerRules(ShortWeek(self.short_week), effects, self.carry_ahead, words, self.least_minutes)
