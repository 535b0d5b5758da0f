"""What a district decides about goals' data, by date."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from accounts.dates import date_words
from accounts.models import DistrictRow, ScopedQuerySet
from caseload.progress.points import DAYS_WITHOUT_DATA, DECISION_WORDS
from caseload.progress.points import DecisionRule as DecisionRuleKind
from travel.mileage.models import SINCE_EVER


class GoalRules(DistrictRow):
    """The rules of a district from a day on, until its next rules begin."""

    class DecisionRule(models.TextChoices):
        """When the last points ask for a look at the teaching (the values of points.DecisionRule)."""

        THREE_DAYS = DecisionRuleKind.THREE_DAYS.value, DECISION_WORDS[DecisionRuleKind.THREE_DAYS]
        FOUR_POINTS = DecisionRuleKind.FOUR_POINTS.value, DECISION_WORDS[DecisionRuleKind.FOUR_POINTS]

    first_day = models.DateField(default=SINCE_EVER, help_text="The first day that these rules hold for.")
    decision_rule = models.CharField(
        max_length=12,
        choices=DecisionRule,
        default=DecisionRule.FOUR_POINTS,
        help_text="How the last data are read.",
    )
    days_without_data = models.PositiveSmallIntegerField(
        default=DAYS_WITHOUT_DATA,
        validators=[MinValueValidator(5), MaxValueValidator(90)],
        help_text="After how many days without data a goal is listed on Attention.",
    )

    objects = ScopedQuerySet["GoalRules"].as_manager()

    class Meta:
        verbose_name = "rules for goals"
        verbose_name_plural = "rules for goals"
        ordering = ["-first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "first_day"],
                name="goal_rules_once_a_day",
                violation_error_message="Other rules already begin on this day: change those.",
            ),
        ]

    def __str__(self) -> str:
        return f"Rules for goals from {date_words(self.first_day)}"
