"""A reviewer of one building, who may look today."""

import datetime as dt
from typing import Any

from accounts.models import Person
from accounts.selectors import today_of
from tests.conftest import Cast, make_person
from travel.places.models import BuildingReview

FIRST, LAST = dt.date(2026, 9, 1), dt.date(2026, 12, 18)
WEEK = dt.timedelta(days=7)


def make_review(cast: Cast, **more: Any) -> BuildingReview:
    """Of the north building for the fall; open a week before today and after."""
    today = today_of(cast.coordinator)
    reviewer = more.pop("reviewer", None) or make_person(cast.district, "reviewer", Person.Role.REVIEWER)
    days = {"first_date": FIRST, "last_date": LAST, "opens_on": today - WEEK, "ends_on": today + WEEK}
    row = BuildingReview.objects.create(district=cast.district, reviewer=reviewer, **{**days, **more})
    row.buildings.set([cast.north])
    return row
