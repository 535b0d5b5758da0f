"""How people of a district sign in: its rules, open sessions, second factors with their recovery codes."""

import datetime as dt
from typing import Self

from django.db import models
from django.utils import timezone

from accounts.models.district import District
from accounts.models.person import Person
from accounts.models.scope import DistrictRow, ScopedQuerySet


class SignInRules(DistrictRow):
    """What a district asks of everybody who signs in; one row a district, none for what is usual."""

    class Idle(models.IntegerChoices):
        """After how many minutes without use a session ends."""

        QUARTER = 15, "15 minutes"
        HALF = 30, "30 minutes"
        HOUR = 60, "1 hour"
        HALF_DAY = 720, "12 hours"
        WEEK = 10_080, "7 days"

    district = models.OneToOneField(District, on_delete=models.CASCADE, related_name="sign_in_rules")
    idle_minutes = models.PositiveIntegerField(
        "sessions end without use after", choices=Idle, default=Idle.WEEK, db_default=Idle.WEEK
    )
    factor_coordinators = models.BooleanField("Coordinators", default=False, db_default=False)
    factor_teachers = models.BooleanField("Itinerant teachers", default=False, db_default=False)
    factor_substitutes = models.BooleanField("Substitutes", default=False, db_default=False)
    factor_offices = models.BooleanField("School offices", default=False, db_default=False)
    factor_reviewers = models.BooleanField("Reviewers", default=False, db_default=False)
    factor_first_day = models.DateField(
        "needed from", null=True, blank=True, help_text="The first day on which nothing else opens without one."
    )

    objects = ScopedQuerySet["SignInRules"].as_manager()

    class Meta:
        verbose_name = "rules for signing in"
        verbose_name_plural = "rules for signing in"

    def __str__(self) -> str:
        return f"Rules for signing in {self.pk}"

    def needs_factor(self, role: str, day: dt.date) -> bool:
        """Whether somebody of a role needs a second factor on a date."""
        asked = {
            Person.Role.COORDINATOR: self.factor_coordinators,
            Person.Role.TEACHER: self.factor_teachers,
            Person.Role.SUBSTITUTE: self.factor_substitutes,
            Person.Role.OFFICE: self.factor_offices,
            Person.Role.REVIEWER: self.factor_reviewers,
        }
        begun = self.factor_first_day is not None and self.factor_first_day <= day
        return begun and asked.get(Person.Role(role), False)


class OwnRowsQuerySet[M: models.Model](models.QuerySet[M]):
    """Everyone's own."""

    def visible_to(self, viewer: object) -> Self:
        """The viewer's own rows."""
        if not isinstance(viewer, Person) or not viewer.is_active:
            return self.none()
        return self.filter(person=viewer)


class OpenSession(models.Model):
    """A sign-in that lasts: where it began, and when it was last used. Ending it deletes it with the session."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="open_sessions")
    session_key = models.CharField(max_length=40, unique=True, editable=False)
    browser = models.CharField(max_length=60, blank=True, help_text="As it says itself, in a few words.")
    shared = models.BooleanField(default=False, help_text="On a computer that others use, too.")
    began_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC")
    used_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC; to within a minute.")

    objects = OwnRowsQuerySet["OpenSession"].as_manager()

    class Meta:
        ordering = ["-used_at", "-id"]

    def __str__(self) -> str:
        return f"Session {self.pk}"


class SecondFactor(models.Model):
    """What somebody has beside the password: an app that makes codes, or a passkey."""

    class Kind(models.TextChoices):
        """What proves it."""

        CODES = "codes", "App with codes"
        PASSKEY = "passkey", "Passkey"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="second_factors")
    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=60, help_text="So that one knows which it is, such as “my phone”.")
    secret = models.TextField(
        editable=False, help_text="Of codes the shared secret, sealed; of a passkey its public key. Base64."
    )
    credential = models.CharField(
        max_length=700, blank=True, editable=False, help_text="A passkey's own id, base64; no two have one."
    )
    counter = models.BigIntegerField(
        default=0, editable=False, help_text="Of codes the time step used last; of a passkey its count of uses."
    )
    made_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC")
    used_at = models.DateTimeField(null=True, editable=False, help_text="UTC")

    objects = OwnRowsQuerySet["SecondFactor"].as_manager()

    class Meta:
        ordering = ["made_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["credential"], condition=~models.Q(credential=""), name="passkey_known_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"

    @property
    def district(self) -> District | None:
        """The person's."""
        return self.person.district


class RecoveryCode(models.Model):
    """A code that stands in once for a second factor that was lost; kept as a hash."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=128, editable=False, help_text="A hash as of passwords, salted.")
    used_at = models.DateTimeField(null=True, editable=False, help_text="UTC")

    objects = OwnRowsQuerySet["RecoveryCode"].as_manager()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"Recovery code {self.pk}"


class ProviderAccount(models.Model):
    """The account at the district's own provider by which somebody signs in; one a person."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="provider_account")
    issuer = models.CharField(max_length=255, editable=False, help_text="The provider's address.")
    subject = models.CharField(
        max_length=255,
        editable=False,
        help_text="What the provider calls the account, for good; says nothing else.",
    )
    made_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC. When it was first used.")

    objects = OwnRowsQuerySet["ProviderAccount"].as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["issuer", "subject"], name="provider_account_known_once"),
        ]

    def __str__(self) -> str:
        return f"Account {self.pk}"

    @property
    def district(self) -> District | None:
        """The person's."""
        return self.person.district
