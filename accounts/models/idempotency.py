"""Keys of what was sent and taken, so that the same sending counts once."""

from typing import Self

from django.db import models
from django.utils import timezone

from accounts.models.person import Person


class IdempotencyKeyQuerySet(models.QuerySet["IdempotencyKey"]):
    """Everyone's own."""

    def visible_to(self, viewer: object) -> Self:
        """The viewer's own keys."""
        if not isinstance(viewer, Person) or not viewer.is_active:
            return self.none()
        return self.filter(person=viewer)


class IdempotencyKey(models.Model):
    """That a person's sending was taken, and what was answered; written in the transaction of what it saved.

    `key` is made by the sender (the header Idempotency-Key of draft-ietf-httpapi-idempotency-key-header-06, or a
    form's hidden field), `content` the SHA-256 of what was sent with it. The answer itself isn't kept, since it may
    name students: its status, where it led, and the id of what it made are.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=64)
    content = models.CharField(max_length=64, help_text="SHA-256 of method, address and body, in hex.")
    status = models.PositiveSmallIntegerField(default=200)
    location = models.CharField(max_length=500, blank=True, help_text="Where a page's answer led.")
    made_id = models.CharField(max_length=40, blank=True, help_text="The id in the API's answer.")
    taken_at = models.DateTimeField(default=timezone.now, editable=False, help_text="UTC")

    objects = IdempotencyKeyQuerySet.as_manager()

    class Meta:
        verbose_name = "idempotency key"
        verbose_name_plural = "idempotency keys"
        ordering = ["-taken_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["person", "key"], name="idempotency_key_once_a_person")]
        indexes = [models.Index(fields=["person", "taken_at"], name="idempotency_key_age")]

    def __str__(self) -> str:
        return self.key
