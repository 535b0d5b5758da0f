"""How a building, and some grades of it, name their days: each rotation has first days."""

from collections.abc import Mapping
from copy import copy
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.fields import id_read
from accounts.guards import ends_foreseen
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, find_changeable, person_of
from accounts.selectors import today_of
from schedule.calendar.forms import DayRotationForm, GradeRotationForm
from schedule.calendar.models import DayRotation, SchoolYear
from schedule.calendar.selectors.rotations import rotation_now
from schedule.calendar.services import records
from travel.places.models import Building
from travel.places.pages.buildings import building_crumbs, building_page

CHANGE = "district.change"
LOOK = "Look at what this changes first. Nothing is saved yet."


class RotationFormPage(RecordFormPage[DayRotation]):
    """How a building names its days from a day on."""

    model = DayRotation
    form_class = DayRotationForm
    permission = CHANGE
    noun = "naming of days"
    effects_said = LOOK
    effects_button = "Save it all the same"

    def new_row(self) -> DayRotation:
        """The building's row that holds today, or a new one."""
        building = find_changeable(Building, self.person, self.kwargs["building"])
        return rotation_now(building, today_of(self.person)) or DayRotation(building=building)

    def begins_with(self, row: DayRotation) -> dict[str, Any]:
        """From today on, once a school year has begun; a row that is put right keeps its first day."""
        today = today_of(self.person)
        begun = SchoolYear.objects.filter(district=row.building.district_id, first_day__lt=today).exists()
        return {"first_day": today} if begun and "correct" not in self.request.GET else {}

    def title(self, row: DayRotation) -> str:
        return f"How days are named at {row.building}"

    def effects(self, row: DayRotation, values: Mapping[str, Any]) -> list[str]:
        """Days that are called otherwise, and what is planned on them."""
        return ends_foreseen(self.person, row, lambda: self._changed(copy(row), values))

    def save(self, row: DayRotation, values: Mapping[str, Any]) -> DayRotation:
        return self._changed(row, values)

    def _changed(self, row: DayRotation, values: Mapping[str, Any]) -> DayRotation:
        given = {**values, "practice": values["practice"] or row.practice}
        return records.rotation_change(actor=self.person, row=row, values=given)

    def back(self, row: DayRotation) -> str:
        return building_page(row.building)

    def crumbs(self, row: DayRotation) -> Crumbs:
        return building_crumbs(row.building)


class GradeRotationFormPage(RotationFormPage):
    """How some grades of a building name their days, by a rotation beside the building's own."""

    form_class = GradeRotationForm
    noun = "rotation of some grades"
    intro = (
        "For a school in which some grades count their days by themselves, such as grades 6 to 8 with A and B "
        "weeks beside a six-day rotation of the lower grades. Students go by it by their grade."
    )

    def new_row(self) -> DayRotation:
        """In the building that the address names."""
        return DayRotation(building=find_changeable(Building, self.person, self.kwargs["building"]))

    def title(self, row: DayRotation) -> str:
        return f"How days of some grades are named at {row.building}"

    def delete_address(self, row: DayRotation) -> str:
        return reverse("grade_rotation_delete", args=[row.pk])


class GradeRotationDeletePage(RecordDeletePage[DayRotation]):
    """Its grades follow the building's own rotation again."""

    model = DayRotation
    permission = CHANGE
    noun = "rotation of some grades"

    can_be_undone = True
    effects_said = LOOK

    def effects(self, row: DayRotation) -> list[str]:
        """Days that are called otherwise, and what is planned on them."""
        me = self.person
        return ends_foreseen(me, row, lambda: records.rotation_delete(actor=me, row=copy(row)))

    def delete(self, row: DayRotation) -> None:
        records.rotation_delete(actor=self.person, row=row)

    def back(self, row: DayRotation) -> str:
        return building_page(row.building)

    def crumbs(self, row: DayRotation) -> Crumbs:
        return building_crumbs(row.building)


@require_POST
@permission_required(CHANGE, raise_exception=True)
def rotation_taking_back(request: HttpRequest, building: int) -> HttpResponse:
    """Undo what was done last to the rotations of a building."""
    person = person_of(request)
    row, seen = find_changeable(Building, person, building), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: records.rotation_take_back(actor=person, building=row, seen=seen), "Taken back.")
    return redirect(building_page(row))
