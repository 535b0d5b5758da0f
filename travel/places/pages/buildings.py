"""Pages of buildings and spaces. A building's own page, with bells and classes, is schedule's."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.forms import RecordForm
from accounts.guards import ends_foreseen
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    find_changeable,
    list_page,
    person_of,
)
from travel.places.forms import BuildingForm, SpaceForm
from travel.places.models import Building, Space
from travel.places.pages.tiles import allow_tiles
from travel.places.selectors import map_ground, other_places, place_asked
from travel.places.services import building_delete, building_save, space_delete, space_save


def building_page(building: Building) -> str:
    """Address of a building's own page."""
    return reverse("building_detail", args=[building.pk])


def building_crumbs(building: Building | None = None) -> Crumbs:
    """The list of buildings, and the building."""
    above = [("Buildings", reverse("building_list"))]
    return above if building is None or not building.pk else [*above, (building.name, building_page(building))]


@require_safe
def building_list(request: HttpRequest) -> HttpResponse:
    """Every building that the person sees."""
    buildings = Building.objects.visible_to(person_of(request)).prefetch_related("spaces")
    return render(request, "travel/building_list.html", {"page": list_page(request, buildings)})


class BuildingFormPage(RecordFormPage[Building]):
    """A new building, or a change to one."""

    model = Building
    form_class = BuildingForm
    template_name = "travel/building_form.html"
    permission = "district.change"
    noun = "building"

    def show(self, row: Building, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With the map on which the pin is set."""
        ground = map_ground(self.person.district)
        others = json.dumps([asdict(one) for one in other_places(self.person, row)])
        answer = super().show(row, form, status, ground=ground, others_json=others, **more)
        return allow_tiles(self.request, answer, ground)

    effects_said = "Look at this first. Nothing is saved yet."
    effects_button = "It is right: save it"

    def effects(self, row: Building, values: Mapping[str, Any]) -> list[str]:
        """What is to be asked about the coordinates, and what a last day ends."""
        question = place_asked(self.person.district, row, values)
        return [*([question] if question else []), *(self._ends(row, values) if row.pk else [])]

    def _ends(self, row: Building, values: Mapping[str, Any]) -> list[str]:
        me, fresh, right = self.person, self.find_row(), {**values, "place_is_right": True}
        return ends_foreseen(me, row, lambda: building_save(actor=me, row=fresh, values=right))

    def save(self, row: Building, values: Mapping[str, Any]) -> Building:
        """Whatever was to be asked about the coordinates has been shown."""
        return building_save(actor=self.person, row=row, values={**values, "place_is_right": True})

    def back(self, row: Building) -> str:
        return building_page(row) if row.pk else reverse("building_list")

    def crumbs(self, row: Building) -> Crumbs:
        return building_crumbs(row)

    def delete_address(self, row: Building) -> str:
        return reverse("building_delete", args=[row.pk])


class BuildingDeletePage(RecordDeletePage[Building]):
    """Delete a building."""

    model = Building
    permission = "district.change"
    noun = "building"

    def delete(self, row: Building) -> None:
        building_delete(actor=self.person, row=row)

    def back(self, row: Building) -> str:
        return building_page(row)

    def after(self, row: Building) -> str:
        return reverse("building_list")

    def crumbs(self, row: Building) -> Crumbs:
        return building_crumbs(row)


class SpaceFormPage(RecordFormPage[Space]):
    """A new space of a building, or a change to one."""

    model = Space
    form_class = SpaceForm
    permission = "district.change"
    noun = "space"
    effects_said = "Look at what is planned first. Nothing is saved yet."
    effects_button = "Save it all the same"

    def new_row(self) -> Space:
        """In the building that the address names."""
        return Space(building=find_changeable(Building, self.person, self.kwargs["building"]))

    def effects(self, row: Space, values: Mapping[str, Any]) -> list[str]:
        """Planned sessions that are outside its first and last day then, or inside again."""
        if not row.pk:
            return []
        me, tried = self.person, self.find_row()
        return ends_foreseen(me, row, lambda: space_save(actor=me, row=tried, values=values))

    def save(self, row: Space, values: Mapping[str, Any]) -> Space:
        return space_save(actor=self.person, row=row, values=values)

    def back(self, row: Space) -> str:
        return building_page(row.building)

    def crumbs(self, row: Space) -> Crumbs:
        return building_crumbs(row.building)

    def delete_address(self, row: Space) -> str:
        return reverse("space_delete", args=[row.pk])


class SpaceDeletePage(RecordDeletePage[Space]):
    """Delete a space."""

    model = Space
    permission = "district.change"
    noun = "space"

    def delete(self, row: Space) -> None:
        space_delete(actor=self.person, row=row)

    def back(self, row: Space) -> str:
        return building_page(row.building)

    def crumbs(self, row: Space) -> Crumbs:
        return building_crumbs(row.building)
