"""Reviews: somebody who changes nothing sees what lies in some buildings and dates, for a while."""

import datetime as dt
from typing import Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.dates import span_words
from accounts.models import DistrictRow, Person, ScopedQuerySet
from accounts.selectors import today_of


class BuildingReviewQuerySet(ScopedQuerySet["BuildingReview"]):
    """The coordinator sees every review, a reviewer their own, nobody else any."""

    def narrowed_for(self, viewer: Person) -> Self:
        """By role."""
        if viewer.is_coordinator:
            return self
        return self.filter(reviewer=viewer) if viewer.is_reviewer else self.none()

    def open_to(self, viewer: Person) -> Self:
        """Those by which somebody may look today, by the district's date: the one place that decides it."""
        today = today_of(viewer)
        return self.visible_to(viewer).filter(reviewer=viewer, opens_on__lte=today, ends_on__gte=today)

    def meeting(self, first: str, last: str) -> Self:
        """Of dates that meet those of an outer row, by the names of its first and last day."""
        return self.filter(first_date__lte=OuterRef(last), last_date__gte=OuterRef(first))


class BuildingReview(DistrictRow):
    """A reviewer, such as a principal or an auditor, sees what lies in some buildings and dates.

    What lies in `first_date` to `last_date` is seen; from `opens_on` through `ends_on` the reviewer may look. All
    four are included. Before and after these the reviewer sees nothing.
    """

    reviewer = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="reviews")
    buildings = models.ManyToManyField("travel.Building", related_name="reviews")
    first_date = models.DateField("first date that is seen")
    last_date = models.DateField("last date that is seen")
    opens_on = models.DateField("may look from")
    ends_on = models.DateField("may look through")

    objects = BuildingReviewQuerySet.as_manager()

    class Meta:
        verbose_name = "review of buildings"
        verbose_name_plural = "reviews of buildings"
        ordering = ["opens_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")),
                name="review_dates_in_order",
                violation_error_message="The last date that is seen is before the first.",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("opens_on")),
                name="review_ends_after_start",
                violation_error_message="The review ends before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return f"Review of {span_words(self.first_date, self.last_date)}"

    def clean(self) -> None:
        """Refuse anybody whose role is another: a review gives nothing to who sees more already."""
        if not self.reviewer.holds(Person.Role.REVIEWER):
            raise ValidationError({"reviewer": "Choose a person whose role is reviewer."}, code="no_reviewer")


def reviewed_between(viewer: Person, first: str, last: str) -> Exists:
    """A condition for rows with a first and a last day, by name: they meet the dates of a review that is open."""
    return Exists(BuildingReview.objects.open_to(viewer).meeting(first, last))


def reviewed_at(viewer: Person, building: str, date: str) -> Exists:
    """A condition for rows at a building on a date, by name: both lie in one review that is open."""
    return Exists(BuildingReview.objects.open_to(viewer).meeting(date, date).filter(buildings=OuterRef(building)))


def reviewed_on(viewer: Person, date: dt.date) -> set[int]:
    """By id, the buildings whose things of a date a reviewer may see today."""
    rows = BuildingReview.objects.open_to(viewer).filter(first_date__lte=date, last_date__gte=date)
    return set(rows.values_list("buildings", flat=True))
