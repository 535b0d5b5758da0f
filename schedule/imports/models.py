"""Imports: what one upload wrote, so that it can be taken back whole."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from accounts.models import DistrictRow, Person, ScopedQuerySet
from jobs.models import Job


class ImportBatchQuerySet(ScopedQuerySet["ImportBatch"]):
    """Own imports; a coordinator sees the district's."""

    def narrowed_for(self, viewer: Person) -> "ImportBatchQuerySet":
        """Own rows unless the viewer answers for the district."""
        return self if viewer.is_coordinator else self.filter(person=viewer)


class ImportBatch(DistrictRow):
    """One upload: previewed, then committed whole, perhaps undone. Many rows are checked and saved by a job."""

    class State(models.TextChoices):
        """How far it got."""

        MATCHING = "matching", "Columns to be named"
        CHECKING = "checking", "Being checked"
        PREVIEW = "preview", "Preview"
        SAVING = "saving", "Being saved"
        COMMITTED = "committed", "Committed"
        UNDONE = "undone", "Undone"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="imports")
    role = models.CharField(
        max_length=12,
        choices=Person.Role,
        default="",
        db_default="",
        blank=True,
        editable=False,
        help_text="In which role it was sent; empty: before anybody could hold several.",
    )
    kind = models.CharField(max_length=24, help_text="Which table, or calendar, or holidays.")
    state = models.CharField(max_length=10, choices=State, default=State.PREVIEW)
    created_at = models.DateTimeField(auto_now_add=True)
    committed_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    content = models.JSONField(default=dict, encoder=DjangoJSONEncoder, help_text="Parsed rows while in preview.")
    ready = models.JSONField(
        null=True, blank=True, encoder=DjangoJSONEncoder, help_text="While in preview: what saving has to write."
    )
    job = models.ForeignKey(
        Job,
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="That checks or saves it.",
    )
    problem_count = models.PositiveIntegerField(default=0)
    row_count = models.PositiveIntegerField(default=0)

    objects = ImportBatchQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "import batches"
        ordering = ["-created_at", "-id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.created_at:%Y-%m-%d}"

    @property
    def is_at_work(self) -> bool:
        """Whether a job checks or saves it right now."""
        return (
            self.state in {self.State.CHECKING, self.State.SAVING} and self.job is not None and not self.job.is_over
        )

    @property
    def is_cut_off(self) -> bool:
        """Whether the job that was to check or save it has ended without doing so."""
        return self.state in {self.State.CHECKING, self.State.SAVING} and not self.is_at_work


class OwnHeaderQuerySet(ScopedQuerySet["OwnHeader"]):
    """One's own only: each sender's tables have their own headers."""

    def narrowed_for(self, viewer: Person) -> "OwnHeaderQuerySet":
        """Own rows."""
        return self.filter(person=viewer)


class OwnHeader(DistrictRow):
    """What a sender said once of a header of their own tables: which column of ours it is, or none."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="own_headers")
    kind = models.CharField(max_length=24, help_text="Which table.")
    header = models.CharField(max_length=120, help_text="Small letters, without signs.")
    column = models.CharField(max_length=40, blank=True, help_text="The name of our column; empty: left out.")

    objects = OwnHeaderQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "header"]
        constraints = [
            models.UniqueConstraint(fields=["person", "kind", "header"], name="own_header_once"),
        ]

    def __str__(self) -> str:
        return self.header


class ImportedRow(models.Model):
    """One row that an import made or changed, with what it was before."""

    batch = models.ForeignKey(ImportBatch, on_delete=models.CASCADE, related_name="rows")
    position = models.PositiveIntegerField()
    model = models.CharField(max_length=60)
    object_id = models.CharField(max_length=40)
    before = models.JSONField(null=True, encoder=DjangoJSONEncoder, help_text="Empty: the import made the row.")
    after = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    class Meta:
        ordering = ["batch", "position"]

    def __str__(self) -> str:
        return f"{self.model} {self.object_id}"
