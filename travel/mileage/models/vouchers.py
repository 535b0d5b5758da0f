"""Vouchers as they were submitted, what became of them, and the questions that were answered for them."""

from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import Q

from accounts.dates import date_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from travel.mileage.chart import MILES_SOURCES
from travel.mileage.models.rules import OwnMileageQuerySet


class VoucherQuerySet(OwnMileageQuerySet["Voucher"]):
    """The teacher's own vouchers, and for a coordinator the district's."""

    def standing(self) -> Self:
        """Those that claim something: submitted, and not returned."""
        return self.filter(status__in=STANDING)


class Voucher(DistrictRow):
    """A month's claim. Open: a supplement being prepared. Submitted: its lines are a copy that nothing changes.

    One that was returned stays as it was and claims nothing; what is submitted in its place has its number and the
    next edition. What became of it, and by whom, its steps say.
    """

    class Status(models.TextChoices):
        """How far it has come."""

        OPEN = "open", "Open"
        SUBMITTED = "submitted", "Submitted"
        RETURNED = "returned", "Returned"
        APPROVED = "approved", "Approved"
        PAID = "paid", "Paid"

    teacher = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="vouchers")
    month = models.DateField(help_text="Its first day.")
    number = models.PositiveSmallIntegerField(default=0, help_text="0: the month's voucher; 1, 2, …: supplements.")
    edition = models.PositiveSmallIntegerField(
        default=1, help_text="1, and one more each time that it is submitted again after it was returned."
    )
    supplement_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="supplements"
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    reprices = models.BooleanField(
        default=False,
        help_text="A supplement that prices every trip of the month again, as the rules of its day are now.",
    )
    rules = models.CharField(max_length=2000, blank=True, help_text="The district's rules then, in words.")
    submitted_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    submitted_at = models.DateTimeField(null=True, blank=True, help_text="UTC")

    objects = VoucherQuerySet.as_manager()

    class Meta:
        ordering = ["-month", "number", "edition"]
        constraints = [
            models.UniqueConstraint(fields=["teacher", "month", "number", "edition"], name="voucher_once"),
            models.UniqueConstraint(
                fields=["teacher", "month"], condition=Q(status="open"), name="one_open_voucher_a_month"
            ),
            models.CheckConstraint(
                condition=Q(status="open", submitted_at__isnull=True)
                | (~Q(status="open") & Q(submitted_at__isnull=False, submitted_by__isnull=False)),
                name="voucher_says_who_submitted",
            ),
            models.CheckConstraint(
                condition=Q(reprices=False) | Q(number__gt=0),
                name="only_a_supplement_reprices",
                violation_error_message="Only a supplement prices a month again.",
            ),
        ]

    def __str__(self) -> str:
        number = f", supplement {self.number}" if self.number else ""
        return f"{self.month:%B %Y}{number}{self.edition_words}"

    @property
    def edition_words(self) -> str:
        """That it was submitted before, where it was."""
        return f", submitted again ({self.edition})" if self.edition > 1 else ""

    @property
    def is_standing(self) -> bool:
        """Whether it claims something."""
        return self.status in STANDING


STANDING = frozenset({Voucher.Status.SUBMITTED, Voucher.Status.APPROVED, Voucher.Status.PAID})
"""Submitted and not returned."""


class OfVoucherQuerySet[M: models.Model](ScopedQuerySet[M]):
    """Rows scoped through their voucher."""

    def visible_to(self, viewer: object) -> Self:
        """Rows of the vouchers that the viewer may see."""
        if not isinstance(viewer, Person):
            return self.none()
        return self.filter(voucher__in=Voucher.objects.visible_to(viewer))


class VoucherStep(models.Model):
    """What became of a submitted voucher, by whom and when; steps are added and never changed.

    ``undoes``: it takes the step before it back, and the voucher is what it was before that.
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.CASCADE, related_name="steps")
    status = models.CharField(max_length=10, choices=Voucher.Status, help_text="What the voucher became.")
    undoes = models.BooleanField(default=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(help_text="UTC")
    words = models.CharField(
        max_length=300, blank=True, help_text="Why it is returned, or what finance knows the payment by."
    )

    objects = OfVoucherQuerySet["VoucherStep"].as_manager()

    class Meta:
        ordering = ["voucher", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(status="returned") | Q(undoes=True) | ~Q(words=""),
                name="voucher_return_says_why",
                violation_error_message="Say why it is returned.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_status_display()} on {date_words(self.at.date())}"


class VoucherAnswer(models.Model):
    """A question about a voucher's trips, and what was answered before it was submitted."""

    voucher = models.ForeignKey(Voucher, on_delete=models.CASCADE, related_name="answers")
    position = models.PositiveSmallIntegerField()
    key = models.CharField(max_length=300, help_text="What is asked, of which trips, by which figures.")
    question = models.TextField()
    answer = models.CharField(max_length=300)

    objects = OfVoucherQuerySet["VoucherAnswer"].as_manager()

    class Meta:
        ordering = ["voucher", "position"]
        constraints = [models.UniqueConstraint(fields=["voucher", "key"], name="voucher_answer_once")]

    def __str__(self) -> str:
        return self.question


class VoucherLine(models.Model):
    """One line as it was submitted: words and figures, so that later corrections change nothing in it.

    In a supplement a line that takes an earlier one back has negative miles and money.
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    key = models.CharField(max_length=60, help_text="The trip's.")
    takes_back = models.BooleanField(default=False)
    date = models.DateField()
    origin = models.CharField(max_length=120)
    destination = models.CharField(max_length=120)
    purpose = models.CharField(max_length=120, blank=True)
    account_code = models.CharField(max_length=40, blank=True)
    direct_miles = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    direct_source = models.CharField(max_length=8, choices=MILES_SOURCES, blank=True)
    driven_miles = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    odometer_before = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    odometer_after = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    source = models.CharField(
        max_length=8, choices=MILES_SOURCES, blank=True, help_text="Of the miles that are claimed."
    )
    off_chart_percent = models.IntegerField(
        null=True, blank=True, help_text="By how much more, or less, was driven than the chart says."
    )
    off_chart = models.BooleanField(default=False, help_text="By more than the district's share of that day.")
    miles = models.DecimalField(max_digits=6, decimal_places=1, help_text="Claimed.")
    rate = models.DecimalField(max_digits=5, decimal_places=4)
    rate_source = models.CharField(max_length=120, blank=True)
    amount = models.DecimalField(max_digits=8, decimal_places=2, help_text="Dollars for the miles.")
    total_rounding = models.CharField(
        max_length=10,
        blank=True,
        help_text="How the total was rounded, of which this line has its cents; empty: the line was rounded.",
    )
    parking = models.DecimalField(max_digits=7, decimal_places=2)
    tolls = models.DecimalField(
        max_digits=7,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="Empty: submitted before they were told apart, and in the parking.",
    )
    rule = models.CharField(max_length=200, help_text="Why so many miles are paid.")
    note = models.CharField(max_length=120, blank=True)

    objects = OfVoucherQuerySet["VoucherLine"].as_manager()

    class Meta:
        ordering = ["voucher", "position"]
        constraints = [models.UniqueConstraint(fields=["voucher", "position"], name="voucher_line_once")]

    def __str__(self) -> str:
        return f"{date_words(self.date)}: {self.origin} to {self.destination}"

    @property
    def total(self) -> Decimal:
        """Mileage, parking and tolls."""
        return self.amount + self.parking + (self.tolls or 0)
