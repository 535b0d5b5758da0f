"""Writes about reviews: given, changed and taken back by the coordinator. Nothing else changes by them."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError

from accounts.dates import span_words
from accounts.models import Person
from accounts.services import permission_require, record_change, record_remove
from travel.places.models import BuildingReview
from travel.reviews.hooks import students_counted

PERMISSION = "people.change"
BUILDINGS_NEEDED = "Choose at least one building."


def review_save(*, actor: Person, row: BuildingReview, values: Mapping[str, Any]) -> BuildingReview:
    """Save what a reviewer may see, and from which day through which they may look.

    Raises `ValidationError` by field, `ApplicationError` 403 for anybody but a coordinator.
    """
    chosen = values["buildings"] if "buildings" in values else row.buildings.all() if row.pk else ()
    problems = {} if len(chosen) else {"buildings": BUILDINGS_NEEDED}
    return record_change(
        actor=actor, row=row, values=values, action="review_save", permission=PERMISSION, problems=problems
    )


def review_delete(*, actor: Person, row: BuildingReview) -> None:
    """Take a review back at once: the reviewer sees nothing by it anymore. What was seen stays recorded."""
    record_remove(actor=actor, row=row, action="review_delete", permission=PERMISSION)


def review_effects(*, actor: Person, row: BuildingReview, values: Mapping[str, Any]) -> list[str]:
    """What saving would let the reviewer see, in sentences; saves nothing.

    Raises `ValidationError` for what isn't there yet, `ApplicationError` 403 for anybody but a coordinator.
    """
    permission_require(actor, PERMISSION)
    kept = list(row.buildings.all()) if row.pk else []
    buildings = sorted(values.get("buildings", kept), key=lambda one: str(one.name))
    if not buildings:
        raise ValidationError({"buildings": BUILDINGS_NEEDED})
    names = ("first_date", "last_date", "opens_on", "ends_on")
    first, last, opens, ends = (values.get(name, getattr(row, name)) for name in names)
    who = values["reviewer"] if row.reviewer_id is None else values.get("reviewer", row.reviewer)
    count = students_counted({one.pk for one in buildings}, first, last)
    many = "1 student" if count == 1 else f"{count} students"
    places = ", ".join(one.name for one in buildings)
    shown = (
        f"Shown: {places}, with what lies in {span_words(first, last)}: {many} with names, plans and services, "
        "what was logged and reports of minutes; published weeks without students."
    )
    return [
        f"{who} may look from {span_words(opens, ends)}, and changes nothing.",
        shown,
        "Not shown: supports, cautions, contacts, goals and their data, drafts, mileage, other buildings.",
        "Each page and file that shows a student is recorded under Who saw what.",
    ]
