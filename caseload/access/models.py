"""Who saw or took out what about students, who signed in, and who tried to."""

from django.db import models
from django.utils import timezone

from accounts.models import DistrictRow, Person, ScopedQuerySet
from caseload.plans.models import Student


class AccessQuerySet(ScopedQuerySet["Access"]):
    """The coordinator's; nobody else reads it."""

    def narrowed_for(self, viewer: Person) -> "AccessQuerySet":
        """Everything of the district, or nothing."""
        return self if viewer.has_perm("access.view") else self.none()


class Access(DistrictRow):
    """One thing that somebody saw, took out or did. Written once and never changed.

    Up to `caseload.access.services.record.FEW` students are named in it one by one; for more, such as a list of
    the whole district, their number is (`count`), and whoever asks about one student is shown it as well.
    """

    class Kind(models.TextChoices):
        """What happened."""

        VIEW = "view", "Looked at"
        FILE = "file", "Took out a file"
        FEED_MADE = "feed_made", "Made a calendar address"
        FEED_FETCHED = "feed_fetched", "Calendar fetched"
        SIGNED_IN = "signed_in", "Signed in"
        REFUSED = "refused", "Sign-in refused"
        TURNED_AWAY = "turned_away", "Not for the role"

    UNSIGNED = frozenset({Kind.FEED_FETCHED, Kind.REFUSED})
    """What happens without a session, and so in no role."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="accesses")
    kind = models.CharField(max_length=12, choices=Kind)
    at = models.DateTimeField(default=timezone.now, db_index=True, editable=False, help_text="UTC")
    role = models.CharField(
        max_length=12,
        choices=Person.Role,
        blank=True,
        default="",
        db_default="",
        help_text="In which role the person worked. Empty if nobody was signed in, or if it wasn't recorded yet.",
    )
    page = models.CharField(max_length=60, blank=True, help_text="The name of the page's address.")
    about = models.CharField(max_length=120, blank=True, help_text="Which file, which program; never a student.")
    why = models.CharField(max_length=200, blank=True)
    count = models.PositiveIntegerField(default=0, help_text="How many students were in it.")
    students = models.ManyToManyField(Student, related_name="accesses", blank=True)

    objects = AccessQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "accesses"
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["person", "at"], name="access_by_person")]

    @property
    def role_words(self) -> str:
        """In which role, in words."""
        if self.role:
            return Person.Role(self.role).label
        return "Nobody signed in" if self.kind in self.UNSIGNED else "Not recorded"

    def __str__(self) -> str:
        return f"Access {self.pk}"
