"""What a teacher is employed for, what was asked about who serves whom, and each proposal that was found."""

from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.dates import date_words
from accounts.models import District, DistrictRow, ForCoordinatorsQuerySet, Person, ScopedQuerySet
from caseload.plans.models import SchoolClass, Student
from jobs.models import Job
from travel.places.models import Building


class TeacherPost(DistrictRow):
    """What a teacher is employed for from a day on, until the next one begins.

    Without any, a teacher has a full post in any field and goes to every building.
    """

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="posts")
    first_day = models.DateField(help_text="From when this holds; what held before stays for the days before.")
    share = models.PositiveSmallIntegerField(
        "share of a full post",
        default=100,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Percent. 60 is three days in five.",
    )
    base = models.ForeignKey(
        Building,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="home base",
        help_text="Where days begin and end. Empty: as the rules of the teacher say.",
    )
    field = models.CharField(
        "field or license",
        max_length=60,
        blank=True,
        help_text="Such as adapted physical education. Students go over only between teachers of one field.",
    )
    not_at = models.ManyToManyField(
        Building,
        blank=True,
        related_name="+",
        verbose_name="never goes to",
        help_text="Buildings to which this teacher is not sent.",
    )

    objects = ForCoordinatorsQuerySet["TeacherPost"].as_manager()

    class Meta:
        verbose_name = "post"
        ordering = ["teacher", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["teacher", "first_day"],
                name="post_once_a_day",
                violation_error_message="This post already changes on this day.",
            ),
        ]

    def __str__(self) -> str:
        return f"Post of {self.teacher} from {date_words(self.first_day)}"

    def clean(self) -> None:
        """Refuse a base in another district."""
        if self.base is not None and self.base.district_id != self.district_id:
            raise ValidationError({"base": "This building belongs to another district."}, code="other_district")


class AssigningRun(DistrictRow):
    """A question who should serve whom from a day on, worked out in the background. Nothing changes by it.

    ``asked`` is the planner's question as it was read (`assigning.kept`), ``kept`` the proposals found so far, from
    which an interrupted search goes on. Both hold ids, codes and figures, never a student's name.
    """

    class Question(models.TextChoices):
        """What is asked."""

        WHO = "who", "All students anew"
        LEAVES = "leaves", "A teacher leaves"
        AWAY = "away", "A teacher is away for a time"
        POST = "post", "One more post"
        MOVES = "moves", "Classes move to another building, or a new one"

    question = models.CharField(max_length=6, choices=Question, default=Question.WHO)
    first_day = models.DateField(help_text="From when students would be with their new teachers.")
    last_day = models.DateField(null=True, blank=True, help_text="Of an absence: the last day away.")
    teachers = models.ManyToManyField(Person, related_name="+")
    leaver = models.ForeignKey(
        Person,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Who leaves or is away.",
    )
    bases = models.ManyToManyField(
        Building, blank=True, related_name="+", help_text="Of one more post: where it might have its base."
    )
    classes = models.ManyToManyField(SchoolClass, blank=True, related_name="+", help_text="Which of them move.")
    moving_to = models.ForeignKey(
        Building,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where classes move.",
    )
    share = models.PositiveSmallIntegerField(
        default=100,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Of one more post: percent.",
    )
    staying = models.ManyToManyField(Student, blank=True, related_name="+", help_text="Stay with their teacher.")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="assigning_run")
    minutes = models.PositiveSmallIntegerField(
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(10)],
        help_text="Of search, for all proposals.",
    )
    asked = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)
    kept = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)

    objects = ForCoordinatorsQuerySet["AssigningRun"].as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="assigning_ends_after_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_question_display()} from {date_words(self.first_day)}"

    @property
    def words(self) -> str:
        """What was asked, with who it is about."""
        if self.moving_to is not None:
            return f"Classes move to {self.moving_to}"
        about = f": {self.leaver}" if self.leaver is not None else ""
        return f"{self.get_question_display()}{about}"


class AssigningPart(models.Model):
    """A part of a run's search with a job of its own, there until the run ends.

    ``found`` is what it came to (ids and figures, never a name); empty until then.
    """

    run = models.ForeignKey(AssigningRun, on_delete=models.CASCADE, related_name="parts")
    round = models.PositiveSmallIntegerField(help_text="Parts of a round don't wait for one another.")
    place = models.PositiveSmallIntegerField(help_text="In the order in which the round is put together.")
    key = models.CharField(max_length=80)
    wanted = models.CharField(max_length=40, help_text="Of which proposal.")
    teacher = models.CharField(max_length=20, blank=True, help_text="Around whom; empty for the whole district.")
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="assigning_part")
    found = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)

    class Meta:
        ordering = ["run", "round", "place"]
        constraints = [models.UniqueConstraint(fields=["run", "key"], name="assigning_part_once")]

    def __str__(self) -> str:
        return f"Part {self.key}"


class ProposalQuerySet(ScopedQuerySet["AssigningProposal"]):
    """Scoped through the run."""

    def visible_to(self, viewer: object) -> "ProposalQuerySet":
        """Of the runs that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(run__in=AssigningRun.objects.visible_to(viewer))


class AssigningProposal(models.Model):
    """One way to share students out, or who serves whom today; a coordinator may change it before it is taken over.

    ``found`` and ``now`` hold the planner's record and with whom students without minutes go, as it was found
    and as it stands; ``moves`` is what was changed by hand between the two, the latest last. ``handed``: the audit
    entries of the hand-overs by which it was taken over.
    """

    run = models.ForeignKey(AssigningRun, on_delete=models.CASCADE, related_name="proposals")
    position = models.PositiveSmallIntegerField(help_text="0 is who serves whom today.")
    title = models.CharField(max_length=120)
    base = models.ForeignKey(
        Building, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", help_text="Of one more post."
    )
    found = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    now = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    moves = models.JSONField(default=list, blank=True, encoder=DjangoJSONEncoder)
    revision = models.PositiveIntegerField(default=1)
    handed = models.JSONField(default=list, blank=True, encoder=DjangoJSONEncoder)
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = ProposalQuerySet.as_manager()

    class Meta:
        ordering = ["run", "position"]
        constraints = [models.UniqueConstraint(fields=["run", "position"], name="proposal_once_a_place")]

    def __str__(self) -> str:
        return f"{self.run}, {self.title}"

    @property
    def district(self) -> District:
        """The run's district."""
        return self.run.district

    @property
    def is_today(self) -> bool:
        """Whether it is who serves whom today, to compare with."""
        return self.position == 0

    @property
    def is_taken(self) -> bool:
        """Whether it was taken over, and not taken back since."""
        return self.taken_at is not None
