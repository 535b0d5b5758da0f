"""Pages of reviews: for the coordinator to give and to take back, for the reviewer to know what is shown."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, person_of
from accounts.selectors import today_of
from travel.places.models import BuildingReview
from travel.reviews.forms import BuildingReviewForm
from travel.reviews.selectors import reviews_listed
from travel.reviews.services import review_delete, review_effects, review_save

PERMISSION = "people.change"


@require_safe
@permission_required("reviews.view", raise_exception=True)
def reviews(request: HttpRequest) -> HttpResponse:
    """Reviews that go on or come: every one for a coordinator, the own ones for a reviewer."""
    viewer = person_of(request)
    today = today_of(viewer)
    context = {"reviews": reviews_listed(viewer, today), "today": today, "may_change": viewer.has_perm(PERMISSION)}
    return render(request, "travel/reviews.html", context)


class _AboutReview:
    """Where the pages of one review belong."""

    model = BuildingReview
    permission = PERMISSION
    noun = "review"

    def back(self, row: BuildingReview) -> str:
        return reverse("reviews")

    def crumbs(self, row: BuildingReview) -> Crumbs:
        return [("People", reverse("people")), ("Reviews", reverse("reviews"))]


class ReviewFormPage(_AboutReview, RecordFormPage[BuildingReview]):
    """A new review, or a change to one."""

    form_class = BuildingReviewForm
    effects_said = "This is what the reviewer will see. Nothing is saved yet."
    effects_button = "Save it"

    def effects(self, row: BuildingReview, values: Mapping[str, Any]) -> list[str]:
        """What is shown, and what isn't."""
        return review_effects(actor=self.person, row=row, values=values)

    def save(self, row: BuildingReview, values: Mapping[str, Any]) -> BuildingReview:
        return review_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: BuildingReview) -> str:
        return reverse("review_delete", args=[row.pk])


class ReviewDeletePage(_AboutReview, RecordDeletePage[BuildingReview]):
    """Take a review back at once."""

    def delete(self, row: BuildingReview) -> None:
        review_delete(actor=self.person, row=row)

    def label(self, row: BuildingReview) -> str:
        return f"{row.reviewer}: {row}"
