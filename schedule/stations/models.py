"""Tables of stations, and of who is at which station in a class hour."""

from typing import Self

from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Lower

from accounts.dates import date_words
from accounts.models import District, DistrictRow, Person, ScopedQuerySet, Substitution
from accounts.models.scope import Viewer
from caseload.care.models import CautionTag
from caseload.plans.models import SchoolClass
from caseload.progress.models import StudentGoal
from schedule.equipment.models import Activity, Equipment, KeptQuerySet
from schedule.stations.pictures import PICTURE_KINDS, picture_problem

MOST_PICTURE_BYTES = 400_000


class Station(DistrictRow):
    """One place of a class hour with what is practiced there, shared by the district's teachers.

    Whose goals it serves stands in `StationGoal`, since each teacher knows the own students only.
    """

    name = models.CharField(max_length=60, help_text="Short enough for a card, such as Balance beam.")
    about = models.TextField(
        "what happens there",
        max_length=1000,
        blank=True,
        validators=[MaxLengthValidator(1000)],
        help_text="For whoever stands there: what the students do, and how it is made easier or harder.",
    )
    activity = models.ForeignKey(
        Activity, on_delete=models.SET_NULL, null=True, blank=True, related_name="stations"
    )
    space_note = models.CharField(
        "space", max_length=80, blank=True, help_text="What room it takes, such as a wall or two mats."
    )
    minutes = models.PositiveSmallIntegerField(
        default=4,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
        help_text="How long a turn usually is.",
    )
    at_a_time = models.PositiveSmallIntegerField(
        "students at a time", default=3, validators=[MinValueValidator(1), MaxValueValidator(40)]
    )
    staff = models.PositiveSmallIntegerField(
        "adults it needs",
        default=0,
        validators=[MaxValueValidator(6)],
        help_text="Whenever a student is there, beside adults who are one student's own.",
    )
    tags = models.ManyToManyField(
        CautionTag,
        blank=True,
        related_name="stations",
        verbose_name="what it has",
        help_text="A student with a caution about one of these doesn't come here before somebody was asked.",
    )
    picture = models.BinaryField(null=True, blank=True, editable=False)
    picture_kind = models.CharField(
        max_length=20, blank=True, editable=False, choices=[(one, one) for one in PICTURE_KINDS]
    )
    picture_before = models.BinaryField(null=True, blank=True, editable=False)
    picture_kind_before = models.CharField(max_length=20, blank=True, editable=False, db_default="", default="")
    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = KeptQuerySet["Station"].as_manager()

    class Meta:
        ordering = [Lower("name"), "id"]
        constraints = [
            models.UniqueConstraint(
                "district",
                Lower("name"),
                condition=Q(removed_at__isnull=True),
                name="station_name_once",
                violation_error_message="Another station has this name. Change that one, or choose another name.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a picture that is none, or too large."""
        if self.picture:
            problem = picture_problem(bytes(self.picture), self.picture_kind, MOST_PICTURE_BYTES)
            if problem:
                raise ValidationError(problem, code="picture")


class OfStationQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their station."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Rows of the stations that the viewer sees."""
        return self.filter(station__in=Station.objects.visible_to(viewer))


class StationEquipment(models.Model):
    """What a station takes, and how many."""

    station = models.ForeignKey(Station, on_delete=models.CASCADE, related_name="needs")
    equipment = models.ForeignKey(Equipment, on_delete=models.CASCADE, related_name="stations")
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(200)])

    objects = OfStationQuerySet["StationEquipment"].as_manager()

    class Meta:
        verbose_name = "equipment of a station"
        verbose_name_plural = "equipment of stations"
        ordering = ["station", Lower("equipment__name")]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "equipment"],
                name="equipment_once_a_station",
                violation_error_message="The station has this equipment already. Change how many.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.equipment}"

    @property
    def district(self) -> District:
        """The station's district."""
        return self.station.district


class StationGoalQuerySet(ScopedQuerySet["StationGoal"]):
    """Scoped through the goal's student."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Of students whom the viewer sees."""
        return self.filter(goal__in=StudentGoal.objects.visible_to(viewer))


class StationGoal(models.Model):
    """A student's goal that a station serves."""

    station = models.ForeignKey(Station, on_delete=models.CASCADE, related_name="goals")
    goal = models.ForeignKey(StudentGoal, on_delete=models.CASCADE, related_name="stations")

    objects = StationGoalQuerySet.as_manager()

    class Meta:
        verbose_name = "goal of a station"
        verbose_name_plural = "goals of stations"
        ordering = ["station", "goal"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "goal"],
                name="goal_once_a_station",
                violation_error_message="The station serves this goal already.",
            ),
        ]

    def __str__(self) -> str:
        """Without the goal's text, which may name the student."""
        return f"{self.station}: {self.goal}"

    @property
    def district(self) -> District:
        """The student's district."""
        return self.goal.student.district


class StationRotationQuerySet(ScopedQuerySet["StationRotation"]):
    """A teacher's own, mates' of the team's days, a coordinator's district, covered days for a substitute."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role; offices see none."""
        if viewer.is_coordinator:
            return self
        if viewer.is_teacher:
            mine = Q(teacher=viewer)
            for one in viewer.mates:
                mine |= Q(teacher=one.person_id, date__gte=one.first_day, date__lte=one.last_day)
            return self.filter(mine)
        if viewer.role != Person.Role.SUBSTITUTE:
            return self.none()
        covers = Substitution.objects.filter(
            substitute=viewer,
            teacher=OuterRef("teacher"),
            first_date__lte=OuterRef("date"),
            last_date__gte=OuterRef("date"),
        )
        return self.filter(Exists(covers.of_session(OuterRef("session_uid"))))

    def standing(self) -> Self:
        """Without those that were taken back."""
        return self.filter(taken_back_at__isnull=True)


class StationRotation(DistrictRow):
    """One version of who is where in one session; a change makes the next, and the last that stands is used.

    `content` holds ids, never a student's name (`schedule.stations.rotation.keeping`).
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="station_rotations")
    session_uid = models.UUIDField(db_index=True)
    date = models.DateField()
    school_class = models.ForeignKey(
        SchoolClass, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    number = models.PositiveIntegerField()
    content = models.JSONField(encoder=DjangoJSONEncoder)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True, help_text="UTC")
    taken_back_at = models.DateTimeField(null=True, blank=True, help_text="UTC")

    objects = StationRotationQuerySet.as_manager()

    class Meta:
        ordering = ["session_uid", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["session_uid", "number"], name="station_rotation_number_once"),
        ]

    def __str__(self) -> str:
        return f"Stations on {date_words(self.date)}, version {self.number}"
