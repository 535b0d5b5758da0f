"""What was asked for everybody's week, and each teacher's turn in it."""

from django.db import models
from django.db.models import Q

from accounts.models import DistrictRow, ForCoordinatorsQuerySet, Person
from schedule.calendar.words import week_words
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.models import PlanRun


class EverybodyPlan(DistrictRow):
    """One week of many teachers, a turn for each. A district has one under way at a time."""

    monday = models.DateField()
    aim = models.CharField(
        max_length=13,
        choices=[(aim.value, words) for aim, words in AIM_WORDS.items()],
        default=Aim.USUAL_TIMES.value,
    )
    time_limit = models.PositiveSmallIntegerField(default=20, help_text="Seconds of work a teacher.")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    stopped_at = models.DateTimeField(null=True, blank=True, help_text="No turn is begun from then on.")
    ended_at = models.DateTimeField(null=True, blank=True, help_text="When the last turn came to its end.")
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = ForCoordinatorsQuerySet["EverybodyPlan"].as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["district"],
                condition=Q(ended_at=None),
                name="one_plan_of_everybody_under_way",
                violation_error_message="Everybody's week is being planned already.",
            ),
        ]

    def __str__(self) -> str:
        return f"Everybody, {week_words(self.monday)}"


class EverybodyTurn(models.Model):
    """A teacher's turn: begun with a run of its own once those named in ``after`` have come to their end."""

    plan = models.ForeignKey(EverybodyPlan, on_delete=models.CASCADE, related_name="turns")
    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    place = models.PositiveSmallIntegerField(help_text="In the order of turns, from 1.")
    after = models.JSONField(default=list, blank=True, help_text="Ids of teachers.")
    run = models.OneToOneField(
        PlanRun, on_delete=models.SET_NULL, null=True, blank=True, related_name="everybody_turn"
    )
    refused = models.CharField(max_length=500, blank=True, help_text="Why it couldn't be begun; no names.")

    class Meta:
        ordering = ["plan", "place"]
        constraints = [models.UniqueConstraint(fields=["plan", "teacher"], name="one_turn_a_teacher")]

    def __str__(self) -> str:
        return f"Turn {self.place}"
