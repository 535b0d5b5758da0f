"""The page that finds a building's coordinates by its address. A person chooses; nothing is set by itself."""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.errors import ApplicationError
from accounts.pages import find_changeable, person_of
from travel.places.geocoding import Candidate
from travel.places.models import Building
from travel.places.selectors import geocoding_is_on, place_asked
from travel.places.services import building_geocode, building_save

ENTER_THEM = "If they are right, enter them on the building's form."


class PlaceForm(forms.Form):
    """One of the places that were offered."""

    latitude = forms.DecimalField(min_value=-90, max_value=90, max_digits=9, decimal_places=6)
    longitude = forms.DecimalField(min_value=-180, max_value=180, max_digits=9, decimal_places=6)


@require_http_methods(["GET", "HEAD", "POST"])
def building_place(request: HttpRequest, pk: int) -> HttpResponse:
    """Look the address up (a POST without coordinates), then take one of the places (a POST with them)."""
    person = person_of(request)
    if not person.has_perm("district.change"):
        raise PermissionDenied
    building = find_changeable(Building, person, pk)
    if request.method == "POST" and "latitude" in request.POST:
        form = PlaceForm(request.POST)
        if form.is_valid():
            question = place_asked(building.district, building, form.cleaned_data)
            if question:
                return _page(request, building, problem=f"{question} {ENTER_THEM}")
            building_save(actor=person, row=building, values=form.cleaned_data)
            messages.success(request, f"{building.name} now has these coordinates.")
            return redirect("building_detail", building.pk)
        return _page(request, building, problem="This isn't a place on the map. Look up the address again.")
    if request.method == "POST":
        try:
            return _page(request, building, found=building_geocode(actor=person, row=building))
        except ApplicationError as error:
            return _page(request, building, problem=error.message)
    return _page(request, building)


def _page(
    request: HttpRequest, building: Building, found: tuple[Candidate, ...] = (), problem: str = ""
) -> HttpResponse:
    context: dict[str, Any] = {
        "building": building,
        "found": found,
        "problem": problem,
        "is_on": geocoding_is_on(building.district),
        "crumbs": [
            ("Buildings", reverse("building_list")),
            (building.name, reverse("building_detail", args=[building.pk])),
        ],
    }
    return render(request, "travel/building_place.html", context, status=422 if problem else 200)
