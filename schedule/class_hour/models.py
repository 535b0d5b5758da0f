"""Tables of routines: what a class hour is made of, and which routine a session has."""

from typing import Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import District, DistrictRow, Person, ScopedQuerySet, Substitution
from accounts.selectors import today_of
from caseload.plans.models import SchoolClass, Student
from caseload.progress.models import StudentGoal
from schedule.class_hour.fitting import WhenShort
from schedule.equipment.models import Activity, Equipment

LONGEST = 120


class RoutineQuerySet(ScopedQuerySet["Routine"]):
    """A teacher's own, mates', and the district's shelf; a substitute's are those of who is covered today."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role; offices see none."""
        if viewer.is_coordinator:
            return self
        if viewer.is_teacher:
            mates = [one.person_id for one in viewer.mates]
            return self.filter(Q(teacher__in=[viewer.pk, *mates]) | Q(on_shelf=True))
        if viewer.role != Person.Role.SUBSTITUTE:
            return self.none()
        today = today_of(viewer)
        covers = Substitution.objects.filter(substitute=viewer, first_date__lte=today, last_date__gte=today)
        return self.filter(Q(teacher__in=covers.values("teacher")) | Q(on_shelf=True))

    def in_use(self) -> Self:
        """Without those that were put away."""
        return self.filter(removed_at__isnull=True)


class Routine(DistrictRow):
    """An ordered list of timed parts that a class or a group knows as its lesson."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="routines")
    name = models.CharField(max_length=80)
    about = models.TextField(blank=True, help_text="What it is for, in a sentence or two.")
    school_class = models.ForeignKey(
        SchoolClass,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="routines",
        verbose_name="class",
        help_text="Its sessions have this routine unless another is chosen for a day.",
    )
    students = models.ManyToManyField(
        Student,
        blank=True,
        related_name="routines",
        verbose_name="group",
        help_text="For a group or one student instead: sessions with exactly these students have it.",
    )
    variant_of = models.ForeignKey(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="variants", editable=False
    )
    variant = models.CharField(
        max_length=40, blank=True, help_text="Such as lower energy, older students or small space."
    )
    attention_minutes = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text="For how many minutes this class stays with one thing, as you know it. Empty: no advice on it.",
    )
    on_shelf = models.BooleanField(
        "on the district's shelf", default=False, help_text="Every teacher of the district can read and copy it."
    )
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = RoutineQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "school_class"],
                condition=Q(removed_at__isnull=True, variant_of__isnull=True, school_class__isnull=False),
                name="routine_once_a_class",
                violation_error_message="This class has a routine already. Make a variant of that one.",
            ),
            models.CheckConstraint(
                condition=Q(variant_of__isnull=True) | ~Q(variant=""),
                name="routine_variant_is_named",
                violation_error_message="Say what is different in this variant, such as lower energy.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.variant}" if self.variant else self.name

    @property
    def usual_minutes(self) -> int:
        """Of its parts in use together."""
        return sum(part.minutes for part in self.parts.all() if part.removed_at is None)

    def clean(self) -> None:
        """Refuse a class elsewhere, and somebody who doesn't teach."""
        if self.school_class is not None and self.school_class.district.pk != self.district_id:
            raise ValidationError({"school_class": "This class is in another district."}, code="other_district")
        if self.teacher_id is not None and not self.teacher.holds(Person.Role.TEACHER):
            raise ValidationError({"teacher": "Only a teacher has routines."}, code="no_teacher")


class RoutinePartQuerySet(ScopedQuerySet["RoutinePart"]):
    """Scoped through the routine."""

    def visible_to(self, viewer: object) -> Self:
        """Parts of the routines that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(routine__in=Routine.objects.visible_to(viewer))

    def in_use(self) -> Self:
        """Without those that were taken out."""
        return self.filter(removed_at__isnull=True)


class RoutinePart(models.Model):
    """One part of a routine. Lengths in minutes; `position` counts from 1."""

    class Kind(models.TextChoices):
        """What sort of part it is, in the words of physical education."""

        WARM_UP = "warm_up", "Warm-up"
        INSTRUCTION = "instruction", "Instruction"
        WHOLE_GROUP = "whole_group", "Whole-group activity"
        STATIONS = "stations", "Stations"
        COOL_DOWN = "cool_down", "Cool-down"
        OTHER = "other", "Other"

    class Short(models.IntegerChoices):
        """What happens to it where time is short (schedule.class_hour.fitting)."""

        SHRINKS = WhenShort.SHRINKS.value, "It shrinks to its least length, and falls out only at last"
        MAY_FALL_OUT = WhenShort.MAY_FALL_OUT.value, "It may fall out"
        NEVER_FALLS_OUT = WhenShort.NEVER_FALLS_OUT.value, "It never falls out"

    routine = models.ForeignKey(Routine, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField(default=1, editable=False)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.WHOLE_GROUP)
    title = models.CharField(max_length=60, blank=True, help_text="Your own name for it; empty: the kind says it.")
    activity = models.ForeignKey(
        Activity, on_delete=models.SET_NULL, null=True, blank=True, related_name="routine_parts"
    )
    goals = models.ManyToManyField(
        StudentGoal,
        blank=True,
        related_name="routine_parts",
        verbose_name="goals that it serves",
        help_text="While it runs, data are offered on these.",
    )
    what = models.TextField("what happens", blank=True)
    cue = models.CharField(
        "cue that ends it", max_length=120, blank=True, help_text="By what this class knows that it is over."
    )
    minutes = models.PositiveSmallIntegerField(
        default=5, validators=[MinValueValidator(1), MaxValueValidator(LONGEST)], help_text="On a usual day."
    )
    least_minutes = models.PositiveSmallIntegerField(
        "least minutes", default=3, validators=[MinValueValidator(1), MaxValueValidator(LONGEST)],
        help_text="Shorter than this it isn't worth doing; the same as its minutes: it never changes.",
    )  # fmt: skip
    when_short = models.PositiveSmallIntegerField("where time is short", choices=Short, default=Short.SHRINKS)
    where = models.CharField("space", max_length=60, blank=True, help_text="Such as half court, or the mats.")
    leads = models.CharField("who leads", max_length=60, blank=True)
    aide_notes = models.TextField("notes for aides", blank=True)
    set_up = models.CharField(
        "to set up before", max_length=160, blank=True, help_text="It is said while the part before is on."
    )
    set_up_by = models.CharField("who sets it up", max_length=60, blank=True)
    is_known = models.BooleanField("the class knows it already", default=False)
    is_far_apart = models.BooleanField("stations or places are far apart", default=False)
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = RoutinePartQuerySet.as_manager()

    class Meta:
        verbose_name = "part"
        ordering = ["routine", "position", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(least_minutes__lte=F("minutes")),
                name="part_least_at_most_usual",
                violation_error_message="The least length is longer than the usual one.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="other") | ~Q(title=""),
                name="part_other_is_named",
                violation_error_message="Name this part.",
            ),
        ]

    def __str__(self) -> str:
        return self.title or (str(self.activity) if self.activity is not None else str(self.get_kind_display()))

    @property
    def district(self) -> District:
        """The routine's district."""
        return self.routine.district


class PartEquipment(models.Model):
    """So many of one kind of equipment for a part."""

    part = models.ForeignKey(RoutinePart, on_delete=models.CASCADE, related_name="needs")
    equipment = models.ForeignKey(Equipment, on_delete=models.CASCADE, related_name="part_needs")
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(999)])

    class Meta:
        verbose_name = "equipment of a part"
        verbose_name_plural = "equipment of parts"
        ordering = ["part", "equipment__name"]
        constraints = [models.UniqueConstraint(fields=["part", "equipment"], name="equipment_once_a_part")]

    def __str__(self) -> str:
        return f"{self.count} {self.equipment}"


class RunTap(DistrictRow):
    """A tap on the clock of a session that runs, from whichever phone: the clock follows from all of them in order.

    Never changed: taking the last one back is a tap of its own.
    """

    class Kind(models.TextChoices):
        """What it does."""

        BEGIN = "begin", "Begin"
        ON = "on", "Go on"
        LONGER = "longer", "One more minute"
        BACK = "back", "Take the last tap back"

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    made_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    session_uid = models.UUIDField(db_index=True)
    date = models.DateField()
    client_id = models.UUIDField(unique=True, help_text="Made on the phone, once for each tap.")
    kind = models.CharField(max_length=6, choices=Kind)
    part = models.PositiveIntegerField(default=0, help_text="The part that ran then; 0 for none.")
    tapped_at = models.DateTimeField(help_text="UTC")

    class Meta:
        ordering = ["tapped_at", "id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.date}"


class RoutineChoice(DistrictRow):
    """The routine that somebody chose for one session, in place of its class's; none: no routine that day."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    session_uid = models.UUIDField(unique=True)
    date = models.DateField()
    routine = models.ForeignKey(Routine, on_delete=models.CASCADE, null=True, blank=True, related_name="choices")

    class Meta:
        ordering = ["date", "id"]

    def __str__(self) -> str:
        return f"{self.routine} on {self.date}"
