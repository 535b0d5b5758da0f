"""Tokens with which programs of a person ask the API."""

from django.db import models
from django.utils import timezone

from accounts.models.person import Person
from accounts.models.sign_in import OwnRowsQuerySet


class ApiToken(models.Model):
    """A program's way into the API in a person's name: it may what the person may, or read of it alone.

    The token itself is shown once; `digest` is its SHA-256 in hex.
    """

    class Scope(models.TextChoices):
        """What it may do of what the person may."""

        READ = "read", "Read only"
        WRITE = "write", "Read and change"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="api_tokens")
    name = models.CharField(max_length=60, help_text="Which program it is for.")
    scope = models.CharField(max_length=5, choices=Scope, default=Scope.READ)
    role = models.CharField(
        max_length=12,
        choices=Person.Role,
        default="",
        db_default="",
        blank=True,
        editable=False,
        help_text="In which role the program asks; empty: in the one in which the person works.",
    )
    digest = models.CharField(max_length=64, unique=True, editable=False)
    last_day = models.DateField(help_text="It works through this day, in the district's time zone.")
    made_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC")
    used_at = models.DateTimeField(null=True, editable=False, help_text="UTC; to within a minute.")
    minute_began = models.DateTimeField(
        null=True, editable=False, help_text="When counting began; UTC, the database's."
    )
    taken = models.PositiveIntegerField(
        default=0, db_default=0, editable=False, help_text="Requests in the minute that began then."
    )

    objects = OwnRowsQuerySet["ApiToken"].as_manager()

    class Meta:
        verbose_name = "API token"
        verbose_name_plural = "API tokens"
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"Token {self.pk}"
