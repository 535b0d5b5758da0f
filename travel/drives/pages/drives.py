"""Pages of drive times: where the minutes come from, the rush, and what was driven."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.fields import id_read
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_visible, list_page, person_of
from accounts.selectors import today_of
from travel.drives.forms import DriveFactorForm, DriveLogForm, TravelChoicesForm
from travel.drives.learning import differing_words
from travel.drives.models import DriveFactor, DriveLog
from travel.drives.selectors import drive_table
from travel.drives.services import (
    drive_factor_delete,
    drive_factor_save,
    drive_log_delete,
    drive_log_save,
    travel_choices_save,
)
from travel.places.models import Building
from travel.roads.base import LEG_SOURCE_WORDS
from travel.roads.models import TravelChoices

LATEST = 50


@require_safe
@permission_required("week.change", raise_exception=True)
def drives(request: HttpRequest) -> HttpResponse:
    """Drives from one building to all others with their sources; rush factors; the latest logged drives."""
    person = person_of(request)
    buildings = list(Building.objects.visible_to(person))
    asked = id_read(request.GET.get("from", ""))
    origin = find_visible(Building, person, asked) if asked else next(iter(buildings), None)
    logs = DriveLog.objects.visible_to(person).select_related("origin", "destination", "teacher")
    context = {
        "buildings": buildings,
        "origin": origin,
        **_legs_from(request, origin, buildings),
        "factors": DriveFactor.objects.visible_to(person).select_related("origin", "destination"),
        "logs": logs[:LATEST],
        "log_count": logs.count(),
        "choices": TravelChoices.objects.visible_to(person).first(),
        "crumbs": [("Rules", reverse("teacher_rules"))],
    }
    return render(request, "travel/drives.html", context)


def _legs_from(request: HttpRequest, origin: Building | None, buildings: list[Building]) -> dict[str, Any]:
    if origin is None:
        return {"legs": list_page(request, ()), "missing": (), "warnings": ()}
    table = drive_table(person_of(request), buildings)
    legs = [
        {
            "to": building,
            "minutes": leg.minutes,
            "miles": leg.miles,
            "source": LEG_SOURCE_WORDS[leg.source],
            "ninety": round(table.predictions[origin.pk, building.pk].percentile(90)),
            "drives": table.predictions[origin.pk, building.pk].drives,
            "held_back": table.predictions[origin.pk, building.pk].held_back,
            "differs": differing_words(table.predictions[origin.pk, building.pk], own=True),
        }
        for building in buildings
        if building.pk != origin.pk and (leg := table.legs.get((origin.pk, building.pk))) is not None
    ]
    missing = dict.fromkeys(
        one.message for one in table.missing if origin.pk in {one.origin_id, one.destination_id}
    )
    return {"legs": list_page(request, legs), "missing": tuple(missing), "warnings": table.warnings}


class DrivesBack:
    """Back to the page of drives."""

    def back(self, row: Any) -> str:
        """The page of drives."""
        return reverse("drives")

    def crumbs(self, row: Any) -> Crumbs:
        """Above it."""
        return [("Rules", reverse("teacher_rules")), ("Drives", reverse("drives"))]


class DriveLogFormPage(DrivesBack, RecordFormPage[DriveLog]):
    """A drive entered by hand, or corrected."""

    model = DriveLog
    form_class = DriveLogForm
    permission = "week.change"
    noun = "drive"
    intro = (
        "From parking lot to parking lot. The times show how long it takes you; the odometer shows how far it is."
    )

    def initial(self) -> dict[str, Any]:
        return {"date": today_of(self.person)}

    def save(self, row: DriveLog, values: Mapping[str, Any]) -> DriveLog:
        return drive_log_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: DriveLog) -> str:
        return reverse("drive_log_delete", args=[row.pk])


class DriveLogDeletePage(DrivesBack, RecordDeletePage[DriveLog]):
    """Forget a drive."""

    model = DriveLog
    permission = "week.change"
    noun = "drive"

    def delete(self, row: DriveLog) -> None:
        drive_log_delete(actor=self.person, row=row)


class DriveFactorFormPage(DrivesBack, RecordFormPage[DriveFactor]):
    """A rush factor."""

    model = DriveFactor
    form_class = DriveFactorForm
    permission = "district.change"
    noun = "rush factor"

    def save(self, row: DriveFactor, values: Mapping[str, Any]) -> DriveFactor:
        return drive_factor_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: DriveFactor) -> str:
        return reverse("drive_factor_delete", args=[row.pk])


class DriveFactorDeletePage(DrivesBack, RecordDeletePage[DriveFactor]):
    """Delete a rush factor."""

    model = DriveFactor
    permission = "district.change"
    noun = "rush factor"

    def delete(self, row: DriveFactor) -> None:
        drive_factor_delete(actor=self.person, row=row)


class TravelChoicesPage(DrivesBack, RecordFormPage[TravelChoices]):
    """The district's choices: one row, made at the first time."""

    model = TravelChoices
    form_class = TravelChoicesForm
    permission = "district.change"
    noun = "choices about drive times"

    def new_row(self) -> TravelChoices:
        """The district's own, or its first."""
        found = TravelChoices.objects.visible_to(self.person).first()
        return found or TravelChoices(district=self.person.district)

    def title(self, row: TravelChoices) -> str:
        return "Choices about drive times"

    def saved_message(self, row: TravelChoices) -> str:
        return "The choices are saved."

    def save(self, row: TravelChoices, values: Mapping[str, Any]) -> TravelChoices:
        return travel_choices_save(actor=self.person, row=row, values=values)
