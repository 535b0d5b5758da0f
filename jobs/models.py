"""The job row: background work written in the same transaction as the change that asks for it."""

import uuid

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q


class Job(models.Model):
    """One piece of background work, claimed under a lease by one worker at a time.

    The payload holds ids only, never a name. A job whose lease ran out is claimed again, so every handler is
    idempotent.
    """

    class State(models.TextChoices):
        """How far it got."""

        WAITING = "waiting", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"
        STOPPED = "stopped", "Stopped"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=40)
    payload = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    district_number = models.PositiveBigIntegerField(
        null=True,
        blank=True,
        help_text="Whose work it is: the district's id.",
    )
    unique_key = models.CharField(max_length=120, blank=True, help_text="No second unfinished job with this key.")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    attempts_allowed = models.PositiveSmallIntegerField(default=3)
    lease_token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    stop_asked = models.BooleanField(default=False)
    progress = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    error = models.CharField(max_length=500, blank=True, help_text="For the person who asked; no names.")
    broke_off = models.BooleanField(
        default=False, db_default=False, help_text="Failed for no fault of what was asked: it can be started again."
    )
    created_at = models.DateTimeField(auto_now_add=True)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True, help_text="Last handed to Celery.")

    class Meta:
        ordering = ["created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["unique_key"],
                condition=Q(state__in=["waiting", "running"]) & ~Q(unique_key=""),
                name="one_unfinished_job_a_key",
            ),
        ]
        indexes = [models.Index(fields=["state", "lease_until"])]

    def __str__(self) -> str:
        return f"{self.kind} {self.id}"

    @property
    def is_over(self) -> bool:
        """Whether nothing more will happen to it."""
        return self.state in {self.State.DONE, self.State.FAILED, self.State.STOPPED}
