"""Pages for the coordinator: the district itself, and what of it may be asked of others."""

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.district.services import PERMISSION, district_save
from accounts.models import District
from accounts.pages import Crumbs, RecordFormPage, person_of
from accounts.sign_in.selectors import rules_of
from travel.district.forms import DistrictForm, TileSourceForm
from travel.drives.services import travel_choices_save
from travel.places.selectors import tile_host
from travel.roads.models import TravelChoices


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def district(request: HttpRequest) -> HttpResponse:
    """The district, and everything that may leave this server for its maps and drives."""
    choices = TravelChoices.objects.visible_to(person_of(request)).first() or TravelChoices()
    context = {
        "district": person_of(request).district,
        "choices": choices,
        "sign_in": rules_of(person_of(request)),
        "tile_host": tile_host(choices),
        "geocoder": settings.GEOCODER,
        "road_server": settings.ROAD_SERVICE_URL,
    }
    return render(request, "travel/district.html", context)


class DistrictBack:
    """Back to the district's page."""

    def back(self, row: Any) -> str:
        """The district."""
        return reverse("district")

    def crumbs(self, row: Any) -> Crumbs:
        """Above it."""
        return [("District", reverse("district"))]


class DistrictFormPage(DistrictBack, RecordFormPage[District]):
    """Its name, state and time zone."""

    model = District
    form_class = DistrictForm
    permission = PERMISSION
    noun = "district"

    def new_row(self) -> District:
        """The coordinator's own; there is never another."""
        return get_object_or_404(District, pk=self.person.district_id or 0)

    def save(self, row: District, values: Mapping[str, Any]) -> District:
        return district_save(actor=self.person, values=values)


class TileSourceFormPage(DistrictBack, RecordFormPage[TravelChoices]):
    """From where the pictures below a map are loaded."""

    model = TravelChoices
    form_class = TileSourceForm
    template_name = "travel/tile_source_form.html"
    permission = PERMISSION
    noun = "map"

    def new_row(self) -> TravelChoices:
        """The district's own row, or its first."""
        found = TravelChoices.objects.visible_to(self.person).first()
        return found or TravelChoices(district=self.person.district)

    def title(self, row: TravelChoices) -> str:
        return "Map pictures from elsewhere"

    def saved_message(self, row: TravelChoices) -> str:
        host = tile_host(row)
        return f"Maps are loaded from {host} from now on." if host else "Nothing is loaded from elsewhere."

    def save(self, row: TravelChoices, values: Mapping[str, Any]) -> TravelChoices:
        return travel_choices_save(actor=self.person, row=row, values=values)
