"""Calendar feeds: one row a feed and device, what is in each, and the bytes of its current version.

The secret of an address is never stored, only its SHA-256. Times are UTC. What an event's UID, SEQUENCE, DTSTAMP
and LAST-MODIFIED say comes from `FeedItem`, so that they move with changes and never with the clock.
"""

from typing import Self

from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import DistrictRow, Person, ScopedQuerySet, Substitution
from accounts.selectors import working_as
from caseload.plans.models import SchoolClass
from travel.places.models import Building


class FeedQuerySet(ScopedQuerySet["Feed"]):
    """Everyone sees the feeds that they made; a coordinator the district's, to stop one that got about."""

    def narrowed_for(self, viewer: Person) -> Self:
        """Own feeds unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(owner=viewer)


class Feed(DistrictRow):
    """A subscription of one device to one scope.

    `changes` rises with every change that may show in the feed (schedule.feeds.changes), last at
    `touched_at`; `built_changes` and `built_until` say what the present version was built from and until when its
    window holds.
    """

    class Kind(models.TextChoices):
        """What the feed is of."""

        TEACHER = "teacher", "A teacher's own days"
        BUILDING = "building", "A building, for its office"
        CLASS = "class", "A class, for its teacher"
        SUBSTITUTE = "substitute", "Days that a substitute covers"

    class Drives(models.TextChoices):
        """How drives appear; never both ways, or the time would count twice."""

        EVENTS = "events", "As events of their own"
        NOTE = "note", "As a travel note on the session"

    class Students(models.TextChoices):
        """How students appear."""

        NOTHING = "nothing", "Not at all"
        CODES = "codes", "By code"
        INITIALS = "initials", "By initials"
        NAMES = "names", "By full name"

    owner = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="feeds")
    kind = models.CharField(max_length=12, choices=Kind)
    teacher = models.ForeignKey(
        Person,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="feeds_about",
        help_text="Whose days; for a building or a class: only this teacher's visits.",
    )
    building = models.ForeignKey(Building, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds")
    school_class = models.ForeignKey(
        SchoolClass, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds", verbose_name="class"
    )
    substitution = models.ForeignKey(
        Substitution, on_delete=models.CASCADE, null=True, blank=True, related_name="feeds"
    )
    label = models.CharField(max_length=60, help_text="Which device this is for, such as “my phone”.")
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    site = models.CharField(
        max_length=200, blank=True, help_text="What addresses in it begin with: scheme and host."
    )

    drives = models.CharField(max_length=8, choices=Drives, default=Drives.EVENTS)
    alarm_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(1440)], help_text="Before each session; empty: none."
    )
    leave_alarm_minutes = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(1440)],
        help_text="Before it is time to leave for another school; empty: none.",
    )
    says_setting = models.BooleanField(
        "say the setting in titles",
        default=False,
        db_default=False,
        help_text="One to one, small group and the like. Whoever keeps the calendar reads titles; without this "
        "they say “Adapted PE” where there is no class.",
    )
    students = models.CharField(max_length=8, choices=Students, default=Students.NOTHING)
    days_back = models.PositiveSmallIntegerField(default=30, validators=[MaxValueValidator(366)])
    days_ahead = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(400)],
        help_text="Empty: every published week, and closings to the end of the school year.",
    )

    created_at = models.DateTimeField(auto_now_add=True)
    stopped_at = models.DateTimeField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True, help_text="A substitute's last day.")
    last_fetched_at = models.DateTimeField(null=True, blank=True)
    last_fetched_by = models.CharField(max_length=120, blank=True, help_text="From the User-Agent.")

    changes = models.PositiveIntegerField(default=1, editable=False)
    touched_at = models.DateTimeField(default=timezone.now, editable=False)
    built_changes = models.PositiveIntegerField(default=0, editable=False)
    built_until = models.DateTimeField(null=True, blank=True, editable=False)
    is_open = models.BooleanField(default=True, editable=False, help_text="Whether its owner may still see it.")
    closed_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Since when its owner may no longer see it."
    )
    version = models.PositiveIntegerField(default=0, editable=False)
    shown_hash = models.CharField(max_length=64, blank=True, editable=False)
    body_hash = models.CharField(max_length=64, blank=True, editable=False)
    modified_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = FeedQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind="building") | Q(students="nothing"),
                name="building_feed_has_no_students",
                violation_error_message="A building's feed never shows students.",
            ),
            models.CheckConstraint(
                condition=Q(kind="teacher", teacher__isnull=False)
                | Q(kind="building", building__isnull=False)
                | Q(kind="class", school_class__isnull=False)
                | Q(kind="substitute", teacher__isnull=False, substitution__isnull=False, ends_on__isnull=False),
                name="feed_has_its_scope",
                violation_error_message="Choose what the feed is of.",
            ),
        ]

    @property
    def reader(self) -> Person:
        """The owner, in the role in which they have this feed, whatever they work as elsewhere."""
        if self.kind == self.Kind.SUBSTITUTE:
            return working_as(self.owner, Person.Role.SUBSTITUTE)
        if self.teacher_id == self.owner_id:
            return working_as(self.owner, Person.Role.TEACHER)
        return working_as(self.owner, Person.Role.COORDINATOR, Person.Role.OFFICE)

    def __str__(self) -> str:
        return self.label


class FormerAddress(models.Model):
    """An address whose feed was given a new one, or is deleted; for a while it answers with an emptied calendar."""

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    ended_at = models.DateTimeField()

    class Meta:
        ordering = ["-ended_at"]

    def __str__(self) -> str:
        return f"Until {self.ended_at:%Y-%m-%d}"


class FeedItem(models.Model):
    """One event of a feed as it was last shown, with the number and the moment of its last change.

    One that is gone shows no more, and is kept for its number: an event that returns goes on counting.
    """

    feed = models.ForeignKey(Feed, on_delete=models.CASCADE, related_name="items")
    uid = models.CharField(max_length=64)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    cancelled = models.BooleanField(default=False)
    is_gone = models.BooleanField(default=False, db_default=False)
    first_date = models.DateField()
    last_date = models.DateField()
    content = models.JSONField(encoder=DjangoJSONEncoder, help_text="What schedule.feeds.changes wrote.")

    class Meta:
        ordering = ["feed", "first_date", "uid"]
        constraints = [models.UniqueConstraint(fields=["feed", "uid"], name="feed_item_once")]

    def __str__(self) -> str:
        return self.uid


class FeedBody(models.Model):
    """The bytes of a feed's version, so that they are built once for all processes."""

    feed = models.OneToOneField(Feed, on_delete=models.CASCADE, related_name="body")
    version = models.PositiveIntegerField()
    content = models.BinaryField()

    class Meta:
        verbose_name_plural = "feed bodies"

    def __str__(self) -> str:
        return f"Version {self.version}"
