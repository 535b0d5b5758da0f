"""Pages of the district's stations."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    find_changeable,
    find_visible,
    person_of,
)
from schedule.stations.forms import PictureForm, StationForm, StationNeedForm
from schedule.stations.models import MOST_PICTURE_BYTES, Station, StationEquipment
from schedule.stations.selectors.asking import stations_for
from schedule.stations.services import (
    station_bring_back,
    station_need_delete,
    station_need_save,
    station_picture_bring_back,
    station_picture_set,
    station_put_away,
    station_save,
)


@require_safe
@permission_required("caseload.view", raise_exception=True)
def station_list(request: HttpRequest) -> HttpResponse:
    """The district's stations."""
    viewer = person_of(request)
    put_away = (
        Station.objects.visible_to(viewer).filter(removed_at__isnull=False).defer("picture", "picture_before")
    )
    context = {"stations": stations_for(viewer), "put_away": put_away}
    return render(request, "schedule/stations/list.html", context)


@require_safe
@permission_required("caseload.view", raise_exception=True)
def station_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One station: what happens there, what it takes, whose goals it serves."""
    viewer = person_of(request)
    find_visible(Station, viewer, pk)
    station = stations_for(viewer).filter(pk=pk).first()
    if station is None:
        return redirect("station_list")
    return render(request, "schedule/stations/detail.html", {"station": station, "crumbs": _crumbs()})


def _list() -> str:
    return reverse("station_list")


def _crumbs(station: Station | None = None) -> Crumbs:
    above = [("Stations", _list())]
    return above if station is None else [*above, (station.name, _page(station))]


def _page(station: Station) -> str:
    return reverse("station_detail", args=[station.pk])


class StationFormPage(RecordFormPage[Station]):
    """A new station, or a change to one."""

    model = Station
    form_class = StationForm
    permission = "district.change"
    noun = "station"

    def save(self, row: Station, values: Mapping[str, Any]) -> Station:
        return station_save(actor=self.person, row=row, values=values)

    def back(self, row: Station) -> str:
        return _page(row) if row.pk else _list()

    def crumbs(self, row: Station) -> Crumbs:
        return _crumbs(row if row.pk else None)


class NeedFormPage(RecordFormPage[StationEquipment]):
    """Equipment that a station takes."""

    model = StationEquipment
    form_class = StationNeedForm
    permission = "district.change"
    noun = "equipment"

    def new_row(self) -> StationEquipment:
        """Of the station that the address names."""
        return StationEquipment(station=find_changeable(Station, self.person, self.kwargs["station"]))

    def save(self, row: StationEquipment, values: Mapping[str, Any]) -> StationEquipment:
        return station_need_save(actor=self.person, row=row, values=values)

    def back(self, row: StationEquipment) -> str:
        return _page(row.station)

    def crumbs(self, row: StationEquipment) -> Crumbs:
        return _crumbs(row.station)

    def delete_address(self, row: StationEquipment) -> str:
        return reverse("station_need_delete", args=[row.pk])


class NeedDeletePage(RecordDeletePage[StationEquipment]):
    """Let the station do without it."""

    model = StationEquipment
    permission = "district.change"
    noun = "equipment of the station"

    def delete(self, row: StationEquipment) -> None:
        station_need_delete(actor=self.person, row=row)

    def back(self, row: StationEquipment) -> str:
        return _page(row.station)

    def crumbs(self, row: StationEquipment) -> Crumbs:
        return _crumbs(row.station)


@require_POST
@permission_required("district.change", raise_exception=True)
def station_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a station out of the lists."""
    person = person_of(request)
    row = find_changeable(Station, person, pk)
    station_put_away(actor=person, row=row)
    messages.success(request, f"{row} is put away. You can bring it back below.")
    return redirect("station_list")


@require_POST
@permission_required("district.change", raise_exception=True)
def station_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Put it into the lists again."""
    person = person_of(request)
    row = find_changeable(Station, person, pk)
    do_and_say(request, lambda: station_bring_back(actor=person, row=row), f"{row} is back.")
    return redirect("station_list")


@require_safe
@permission_required("caseload.view", raise_exception=True)
def station_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """The station's own picture."""
    row = find_visible(Station, person_of(request), pk)
    if not row.picture:
        raise Http404
    answer = HttpResponse(bytes(row.picture), content_type=row.picture_kind)
    answer["Cache-Control"] = "private, no-cache"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("district.change", raise_exception=True)
def station_picture_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a picture, or take it away."""
    person = person_of(request)
    row = find_changeable(Station, person, pk)
    if request.method == "POST" and "remove" in request.POST:
        station_picture_set(actor=person, row=row, data=b"")
        messages.success(request, "The picture is gone. You can bring it back.")
        return redirect(_page(row))
    form = PictureForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid() and _picture_saved(person, row, form):
        messages.success(request, "The picture is saved.")
        return redirect(_page(row))
    context = {"form": form, "station": row, "crumbs": _crumbs(row)}
    return render(request, "schedule/stations/picture.html", context, status=422 if form.errors else 200)


@require_POST
@permission_required("district.change", raise_exception=True)
def station_picture_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Use the picture from before again."""
    person = person_of(request)
    row = find_changeable(Station, person, pk)
    do_and_say(
        request, lambda: station_picture_bring_back(actor=person, row=row), "The picture from before is back."
    )
    return redirect(_page(row))


def _picture_saved(person: Any, row: Station, form: PictureForm) -> bool:
    """Whether it was taken; else why not stands at the field. No more is read than a picture may have."""
    try:
        station_picture_set(actor=person, row=row, data=form.cleaned_data["picture"].read(MOST_PICTURE_BYTES + 1))
    except ValidationError as error:
        form.add_error("picture", error.messages[0])
        return False
    return True
