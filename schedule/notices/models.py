"""Who wants to hear what and by which way, what each teacher's days were when last told, and what was sent."""

import datetime as dt
import uuid
from typing import Self

from django.db import models
from django.db.models import F, Q

from accounts.models import DistrictRow, Person, ScopedQuerySet
from caseload.care.models import Contact


class NoticeSettings(DistrictRow):
    """What a district decided about messages. Without a row: as the defaults say."""

    tells_classes = models.BooleanField(
        "write to classroom teachers", default=True,
        help_text="To the email addresses that are kept with a class, when one of its sessions changes soon.",
    )  # fmt: skip
    evening_at = models.TimeField(
        "evening message", default=dt.time(18), help_text="When tomorrow is told, where it isn't the usual day."
    )

    objects = ScopedQuerySet["NoticeSettings"].as_manager()

    class Meta:
        verbose_name_plural = "notice settings"
        constraints = [models.UniqueConstraint(fields=["district"], name="notice_settings_once")]

    def __str__(self) -> str:
        return f"Messages in {self.district}"


class NameRule(DistrictRow):
    """From a day on: how students are called in messages, by each way. Without a rule: not at all."""

    class Shown(models.TextChoices):
        """How a student appears."""

        NOTHING = "nothing", "Not at all"
        INITIALS = "initials", "By initials"
        NAMES = "names", "By name"

    first_date = models.DateField("first day")
    mail = models.CharField(
        "in mails", max_length=8, choices=Shown, default=Shown.NOTHING,
        help_text="Mail lies with the mail's provider, and often on a lock screen.",
    )  # fmt: skip
    push = models.CharField(
        "on devices", max_length=8, choices=Shown, default=Shown.NOTHING,
        help_text="The push service can't read it; whoever sees the lock screen can.",
    )  # fmt: skip

    objects = ScopedQuerySet["NameRule"].as_manager()

    class Meta:
        ordering = ["-first_date"]
        constraints = [
            models.UniqueConstraint(
                fields=["district", "first_date"],
                name="name_rule_once",
                violation_error_message="There is already a rule from this day on.",
            ),
        ]

    def __str__(self) -> str:
        return f"Students in messages from {self.first_date} on"


class OwnQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows of one person, who alone sees them."""

    def narrowed_for(self, viewer: Person) -> Self:
        """The viewer's own."""
        return self.filter(person=viewer)


class Hearing(DistrictRow):
    """What one person wants to hear, and where mail goes. Without a row: everything, at the sign-in's address."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="hearing")
    mail = models.EmailField(
        "email address", blank=True, help_text="Empty: the address that is kept with your sign-in."
    )
    by_mail = models.BooleanField("by mail", default=True)
    at_once = models.BooleanField("changes to the next 24 hours, at once", default=True)
    in_the_evening = models.BooleanField("tomorrow, in the evening, where it isn't the usual day", default=True)

    objects = OwnQuerySet["Hearing"].as_manager()

    def __str__(self) -> str:
        return f"What person {self.person_id} hears"

    @property
    def mail_to(self) -> str:
        """Where mail goes; empty: nowhere."""
        return (self.mail or self.person.email) if self.by_mail else ""


class PushDevice(DistrictRow):
    """A phone or computer on which somebody turned messages on, as its browser's push service knows it.

    `endpoint` and the keys are secrets: whoever has them can send to the device. They stand on no page, in no
    answer of the API and in no log. `is_gone`: the push service said that there is no such device anymore.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="push_devices")
    label = models.CharField("name", max_length=60, help_text="What you call it, such as “my phone”.")
    endpoint = models.CharField(max_length=1000, unique=True, editable=False)
    receiver_key = models.CharField(max_length=100, editable=False, help_text="p256dh, base64url.")
    secret = models.CharField(max_length=40, editable=False, help_text="auth, base64url.")
    server_key = models.CharField(max_length=100, editable=False, help_text="Which of our keys it was told.")
    made_at = models.DateTimeField(help_text="UTC")
    reached_at = models.DateTimeField(null=True, blank=True, help_text="When it last took a message, UTC.")
    ended_at = models.DateTimeField(null=True, blank=True, help_text="UTC")
    is_gone = models.BooleanField(default=False)
    problem = models.CharField(max_length=300, blank=True)

    objects = OwnQuerySet["PushDevice"].as_manager()

    class Meta:
        ordering = ["label", "pk"]

    def __str__(self) -> str:
        return self.label


class WatchedTeacher(models.Model):
    """How often a teacher's days may have changed, and up to which change they were compared.

    A number instead of a mark: a change that comes while the days are being compared is seen by the next time.
    """

    teacher = models.OneToOneField(Person, on_delete=models.CASCADE, primary_key=True, related_name="watched")
    touched = models.PositiveBigIntegerField(default=1)
    compared = models.PositiveBigIntegerField(default=0)
    compared_at = models.DateTimeField(null=True, help_text="UTC")
    told_until = models.DateField(null=True, help_text="The last date of which an evening message was decided.")

    def __str__(self) -> str:
        return f"Days of teacher {self.teacher_id}"


class ToldDate(models.Model):
    """A teacher's date as it was last told, or as it was first seen: what the next change is compared with."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="told_dates")
    date = models.DateField()
    content = models.JSONField(help_text="schedule.notices.day_changes.day_to_json")
    at = models.DateTimeField(help_text="UTC")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["teacher", "date"], name="told_date_once")]

    def __str__(self) -> str:
        return f"{self.date} of teacher {self.teacher_id}"


class EarlierDay(models.Model):
    """What a teacher's date was until something changed, and who alone changed it, where one person did."""

    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="earlier_days")
    date = models.DateField()
    content = models.JSONField(help_text="schedule.notices.day_changes.day_to_json")
    until = models.DateTimeField(help_text="When it was found to be another, UTC.")
    changed_by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["teacher", "date", "until"])]

    def __str__(self) -> str:
        return f"{self.date} of teacher {self.teacher_id} until {self.until}"


class Look(models.Model):
    """Up to when a person has seen what changed of a teacher's date; `before` takes the last "seen" back."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="looks")
    teacher = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    date = models.DateField()
    at = models.DateTimeField(help_text="UTC")
    before = models.DateTimeField(null=True, help_text="UTC")
    said_at = models.DateTimeField(help_text="UTC")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "teacher", "date"], name="look_once")]

    def __str__(self) -> str:
        return f"{self.date} as person {self.person_id} saw it"


class NoticeQuerySet(ScopedQuerySet["Notice"]):
    """What was told about a teacher's days: to the teacher and a coordinator; and to each what they were told."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role."""
        if viewer.is_coordinator:
            return self
        return self.filter(Q(person=viewer) | Q(teacher=viewer))

    def due_at(self, moment: dt.datetime) -> Self:
        """What waits to be sent."""
        return self.filter(state=Notice.State.WAITING, next_try__lte=moment)


class Notice(DistrictRow):
    """One message to one person by one way.

    `key` says what it tells to whom: a second row of the same key can't be made, so nothing is told twice however
    often the work is done. `state` SENDING is written before the message leaves: work that was killed in between
    leaves it there, and nobody sends it again by themselves.
    """

    class Channel(models.TextChoices):
        """How it goes."""

        MAIL = "mail", "Mail"
        PUSH = "push", "Message on a device"

    class State(models.TextChoices):
        """What became of it."""

        WAITING = "waiting", "Not sent yet"
        SENDING = "sending", "Being sent"
        SENT = "sent", "Sent"
        FAILED = "failed", "Not sent"
        UNCERTAIN = "uncertain", "Perhaps sent"

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    key = models.CharField(max_length=200, unique=True, editable=False)
    teacher = models.ForeignKey(
        Person, on_delete=models.CASCADE, null=True, related_name="notices_about", help_text="Whose day."
    )
    date = models.DateField(null=True, help_text="Which day.")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, null=True, related_name="notices")
    contact = models.ForeignKey(Contact, on_delete=models.SET_NULL, null=True, related_name="+")
    channel = models.CharField(max_length=8, choices=Channel)
    device = models.ForeignKey(PushDevice, on_delete=models.SET_NULL, null=True, related_name="+")
    address = models.CharField(max_length=500, help_text="Where it goes: a mail address, or a device's name.")
    path = models.CharField(
        max_length=200, blank=True, db_default="", help_text="The page that it opens; it names no student."
    )
    subject = models.CharField(max_length=200)
    body = models.TextField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    problem = models.CharField(max_length=300, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    next_try = models.DateTimeField(help_text="UTC")
    made_at = models.DateTimeField(help_text="UTC")
    ended_at = models.DateTimeField(null=True, help_text="UTC")

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("made_at")), name="notice_ends_after_it_was_made"
            ),
        ]
        indexes = [models.Index(fields=["state", "next_try"])]

    def __str__(self) -> str:
        return f"{self.get_channel_display()} about {self.date}"

    @property
    def to(self) -> str:
        """To whom, for the page: a grown-up's name."""
        return str(self.person) if self.person is not None else self.contact.name if self.contact else self.address
