"""Reads about reviews, for the page of people."""

import datetime as dt

from accounts.models import Person
from travel.places.models import BuildingReview


def reviews_listed(viewer: Person, today: dt.date) -> list[BuildingReview]:
    """Reviews of the viewer's district that aren't over, with their buildings; a reviewer's own."""
    rows = BuildingReview.objects.visible_to(viewer).filter(ends_on__gte=today)
    return list(rows.select_related("reviewer").prefetch_related("buildings"))
