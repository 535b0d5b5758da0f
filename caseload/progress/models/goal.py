"""Measurable goals as plans write them, with their short-term objectives and what was changed on the way."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, Person, ScopedQuerySet
from caseload.plans.models import Student
from caseload.progress.measures import DISTANCE_UNITS, MEASURE_WORDS, PROMPT_LEVELS, WANTED_WORDS
from caseload.progress.measures import Measure as MeasureKind
from caseload.progress.measures import Wanted as WantedKind

MOST = 99_999


class StudentGoalQuerySet(ScopedQuerySet["StudentGoal"]):
    """Scoped through the student; by the days on which goals hold."""

    def visible_to(self, viewer: object) -> "StudentGoalQuerySet":
        """Goals of the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(student__in=Student.objects.visible_to(viewer))

    def held_on(self, day: dt.date) -> Self:
        """Those that hold on a date: begun, and neither past their last day nor ended before it."""
        running = Q(ended_on__isnull=True) | Q(ended_on__gte=day)
        return self.filter(running, start__lte=day, end__gte=day)


class StudentGoal(models.Model):
    """One measurable goal of a student's plan (34 CFR 300.320(a)(2)), or a short-term objective under one.

    `text` is what the plan says; the other fields are what it is read as, and a person's answer where it can't be
    read. Without a `measure` the goal waits for that answer, and no data are taken on it. `baseline` and
    `criterion` are in the measure's own unit: trials done (of `trials`), percent, times, seconds, laps, steps,
    `distance_unit`, or the number of a level, counted from 1.
    """

    class Measure(models.TextChoices):
        """What one data point is (the values of caseload.progress.measures.Measure)."""

        TRIALS = MeasureKind.TRIALS.value, MEASURE_WORDS[MeasureKind.TRIALS]
        PERCENT = MeasureKind.PERCENT.value, MEASURE_WORDS[MeasureKind.PERCENT]
        COUNT = MeasureKind.COUNT.value, MEASURE_WORDS[MeasureKind.COUNT]
        SECONDS = MeasureKind.SECONDS.value, MEASURE_WORDS[MeasureKind.SECONDS]
        LAPS = MeasureKind.LAPS.value, MEASURE_WORDS[MeasureKind.LAPS]
        STEPS = MeasureKind.STEPS.value, MEASURE_WORDS[MeasureKind.STEPS]
        DISTANCE = MeasureKind.DISTANCE.value, MEASURE_WORDS[MeasureKind.DISTANCE]
        PROMPT = MeasureKind.PROMPT.value, MEASURE_WORDS[MeasureKind.PROMPT]
        RUBRIC = MeasureKind.RUBRIC.value, MEASURE_WORDS[MeasureKind.RUBRIC]

    class Wanted(models.TextChoices):
        """Which way the figures are to go."""

        MORE = WantedKind.MORE.value, WANTED_WORDS[WantedKind.MORE]
        LESS = WantedKind.LESS.value, WANTED_WORDS[WantedKind.LESS]

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="goals")
    parent = models.ForeignKey(
        "self",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="objectives",
        help_text="The goal that this is a short-term objective of.",
    )
    text = models.TextField(
        max_length=1000, validators=[MaxLengthValidator(1000)], help_text="As the plan writes it."
    )
    measure = models.CharField(
        max_length=10, choices=Measure, blank=True, help_text="Empty: the text can't be read, and nobody has said."
    )
    wanted = models.CharField(max_length=4, choices=Wanted, default=Wanted.MORE)
    baseline = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(MOST)],
        help_text="What the student did when the goal was written.",
    )
    criterion = models.DecimalField(
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(MOST)],
        help_text="What the goal asks for.",
    )
    trials = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="5 in “4 of 5 trials”.",
    )
    sessions = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="In how many sessions the criterion is to be reached: 3 in “over three sessions”.",
    )
    sessions_of = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="4 in “in 3 of 4 sessions”. Empty: in a row.",
    )
    distance_unit = models.CharField(
        max_length=2, blank=True, choices=[(one, one) for one in DISTANCE_UNITS], help_text="Of a distance."
    )
    levels = models.TextField(
        blank=True,
        max_length=1000,
        validators=[MaxLengthValidator(1000)],
        help_text="Of a rubric or of prompts: one a line, the lowest (or most help) first.",
    )
    condition = models.CharField(
        max_length=300, blank=True, help_text="Under which it is measured, such as “with a verbal cue”."
    )
    start = models.DateField(help_text="The first day on which the goal holds.")
    end = models.DateField(help_text="The day by which the criterion is to be reached.")
    ended_on = models.DateField(
        null=True, blank=True, help_text="The last day for data, where it ended before its date."
    )
    ended_why = models.CharField(max_length=300, blank=True, help_text="Why it ended, as the team says it.")
    position = models.PositiveSmallIntegerField(
        default=1, help_text="The goal's number among the student's; small ones come first."
    )

    objects = StudentGoalQuerySet.as_manager()

    class Meta:
        verbose_name = "goal"
        verbose_name_plural = "goals"
        ordering = ["student", "position", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(end__gte=F("start")),
                name="goal_ends_after_start",
                violation_error_message="The goal is to be reached before it begins.",
            ),
        ]

    def __str__(self) -> str:
        """Without the text, which may name the student: this ends up in logs and error pages."""
        return f"Goal from {date_words(self.start)}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.student.district

    @property
    def last_day(self) -> dt.date:
        """The last day on which data are taken."""
        return self.end if self.ended_on is None else min(self.end, self.ended_on)

    @property
    def level_names(self) -> tuple[str, ...]:
        """The levels of a rubric or of prompts, the lowest first; empty for other measures."""
        own = tuple(line.strip() for line in self.levels.splitlines() if line.strip())
        return own or (PROMPT_LEVELS if self.measure == self.Measure.PROMPT else ())

    def clean(self) -> None:
        """Hold the figures against the measure, and the objective against its goal."""
        problems = {**self._figure_problems(), **self._family_problems()}
        if self.ended_on is not None and self.start is not None and self.ended_on < self.start:
            problems["ended_on"] = f"The goal begins on {date_words(self.start)}."
        if problems:
            raise ValidationError(problems)

    def _figure_problems(self) -> dict[str, str]:
        found = {name: f"At most {self._most()} here." for name in ("baseline", "criterion") if self._is_over(name)}
        if self.sessions_of is not None and (self.sessions or 0) > self.sessions_of:
            found["sessions_of"] = f"At least {self.sessions} here, or empty for sessions in a row."
        return {**found, **self._measure_problems()}

    def _is_over(self, name: str) -> bool:
        value, most = getattr(self, name), self._most()
        return value is not None and most is not None and value > most

    def _measure_problems(self) -> dict[str, str]:
        """What a measure needs beside its figures."""
        if self.measure == self.Measure.TRIALS and not self.trials:
            return {"trials": "Say of how many trials."}
        if self.measure == self.Measure.DISTANCE and not self.distance_unit:
            return {"distance_unit": "Say in what the distance is measured."}
        if self.measure == self.Measure.RUBRIC and len(self.level_names) < 2:
            return {"levels": "Name at least two levels, one a line, the lowest first."}
        return {}

    def _most(self) -> int | None:
        """The largest figure that the measure knows."""
        known = {
            self.Measure.TRIALS.value: self.trials,
            self.Measure.PERCENT.value: 100,
            self.Measure.PROMPT.value: len(self.level_names),
            self.Measure.RUBRIC.value: len(self.level_names) if len(self.level_names) > 1 else None,
        }
        return known.get(self.measure)

    def _family_problems(self) -> dict[str, str]:
        if self.parent is None:
            return {}
        if self.parent.student_id != self.student_id:
            return {"parent": "This goal is another student's."}
        if self.parent.parent_id is not None or self.parent_id == self.pk:
            return {"parent": "An objective stands under a goal, not under another objective."}
        return {}


class OfGoalQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their goal's student."""

    def visible_to(self, viewer: object) -> "OfGoalQuerySet[M]":
        """Rows about the students whom the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(goal__student__in=Student.objects.visible_to(viewer))


class PhaseChange(models.Model):
    """From a day on something about the teaching is otherwise: data before and after stand apart on the chart."""

    goal = models.ForeignKey(StudentGoal, on_delete=models.CASCADE, related_name="phase_changes")
    day = models.DateField(help_text="The first day of the new phase.")
    words = models.CharField(max_length=120, help_text="What changed, such as a larger ball.")

    objects = OfGoalQuerySet["PhaseChange"].as_manager()

    class Meta:
        verbose_name = "phase change"
        verbose_name_plural = "phase changes"
        ordering = ["goal", "day", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["goal", "day"],
                name="phase_change_once_a_day",
                violation_error_message="Something else already changes on this day: change that one.",
            ),
        ]

    def __str__(self) -> str:
        return f"Phase from {date_words(self.day)}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.goal.student.district
