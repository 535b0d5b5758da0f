"""Pages of who is where in a session: set up, look, change, print."""

import uuid
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import do_and_say, looks_only, person_of
from schedule.stations.forms import ChoicesForm, StationMoveForm
from schedule.stations.models import Station
from schedule.stations.rotation.solving import ChangeAim
from schedule.stations.selectors.asking import (
    ClassHour,
    adults_known,
    cautions_at,
    class_hour,
    logged_away,
    rotation_now,
    stations_for,
)
from schedule.stations.selectors.beginning import choices_of, choices_to_begin
from schedule.stations.selectors.cards import adult_cards, station_cards
from schedule.stations.selectors.showing import rotation_taken_back, rotation_view
from schedule.stations.services import (
    rotation_bring_back,
    rotation_make,
    rotation_move,
    rotation_take_back,
)
from schedule.weeks.selectors.pages import is_mates


@require_safe
@permission_required("log.view", raise_exception=True)
def rotation(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Who is where, round by round."""
    viewer = person_of(request)
    hour = class_hour(viewer, uid, to_read=True)
    view = rotation_view(viewer, hour)
    context = {
        "hour": hour,
        "rotation": view,
        "can_bring_back": rotation_taken_back(viewer, uid),
        "has_stations": stations_for(viewer).exists(),
        "ask_first": _asked_cautions(viewer, hour),
        "crumbs": _crumbs(hour),
        **(looks_only(viewer) if is_mates(viewer, hour.teacher) else {}),
    }
    return render(request, "schedule/stations/rotation.html", context)


def _crumbs(hour: ClassHour) -> list[tuple[str, str]]:
    return [("Day", f"{reverse('day')}?date={hour.date.isoformat()}&teacher={hour.teacher.pk}")]


def _asked_cautions(viewer: Person, hour: ClassHour) -> list[str]:
    """Each student who meets a caution at one of today's stations, and whom to ask."""
    now = rotation_now(viewer, hour.uid)
    if now is None:
        return []
    stations = {one.pk: one for one in stations_for(viewer).filter(pk__in=choices_of(now).stations)}
    return [label for _, _, label in _cautions(hour, list(stations.values()))]


def _cautions(hour: ClassHour, stations: list[Station]) -> list[tuple[int, int, str]]:
    """Student, station and what to say of the cautions that meet there."""
    names = {one.student_id: one.who for one in hour.students}
    called = {one.pk: one.name for one in stations}
    return [
        (who, at, f"{names[who]} at {called[at]} ({', '.join(met[0].tags)}): ask {met[0].whom}")
        for (who, at), met in sorted(cautions_at(hour, stations).items())
        if who in names
    ]


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("log.write", raise_exception=True)
def rotation_set_up(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Say what is so this morning, and have it worked out: anew, or near what there is."""
    viewer = person_of(request)
    hour = class_hour(viewer, uid)
    now, stations = rotation_now(viewer, uid), list(stations_for(viewer))
    away = logged_away(hour)
    choices = choices_to_begin(viewer, hour, stations).without(away)
    known = list(adults_known(hour))
    known += [one for one in choices.adults if one.key not in {adult.key for adult in known}]
    form = ChoicesForm(
        request.POST or None,
        hour=hour,
        stations=stations,
        adults=known,
        choices=choices,
        cautions=_cautions(hour, stations),
    )
    if request.method == "POST" and form.is_valid() and _made(viewer, hour, form, request.POST.get("aim", "")):
        return redirect("rotation", uid)
    context = {
        "hour": hour,
        "form": form,
        "is_change": now is not None,
        "away": list(away.values()),
        "crumbs": [*_crumbs(hour), ("Stations", reverse("rotation", args=[uid]))],
    }
    return render(request, "schedule/stations/set_up.html", context, status=422 if form.errors else 200)


def _made(viewer: Person, hour: ClassHour, form: ChoicesForm, aim: str) -> bool:
    """Whether it was worked out; else why not stands in the form."""
    try:
        wanted = ChangeAim(aim) if aim in set(ChangeAim) else None
        rotation_make(actor=viewer, session=hour.uid, choices=form.said(), aim=wanted)
    except ValidationError as error:
        form.refuse(error.message_dict if hasattr(error, "error_dict") else {"": error.messages})
        return False
    return True


@require_POST
@permission_required("log.write", raise_exception=True)
def rotation_moved(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Put one student elsewhere by hand."""
    form = StationMoveForm(request.POST)
    viewer = person_of(request)
    class_hour(viewer, uid)
    if not form.is_valid():
        messages.error(request, "Choose a student, a round and where the student goes.")
        return redirect("rotation", uid)
    try:
        rotation_move(actor=viewer, session=uid, **form.cleaned_data)
    except (ValidationError, ApplicationError) as error:
        messages.error(request, _said(error))
        return redirect("rotation", uid)
    messages.success(request, "Moved. You can take it back.")
    return redirect(f"{reverse('rotation', args=[uid])}#round-{form.cleaned_data['turn']}")


@require_POST
@permission_required("log.write", raise_exception=True)
def rotation_back(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Go back to the version before."""
    return _undone(request, uid, rotation_take_back, "Taken back.")


@require_POST
@permission_required("log.write", raise_exception=True)
def rotation_again(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Use again what was taken back."""
    return _undone(request, uid, rotation_bring_back, "It is used again.")


def _undone(request: HttpRequest, uid: uuid.UUID, service: Any, said: str) -> HttpResponse:
    do_and_say(request, lambda: service(actor=person_of(request), session=uid), said)
    return redirect("rotation", uid)


def _said(error: ValidationError | ApplicationError) -> str:
    if isinstance(error, ValidationError):
        return " ".join(error.messages)
    if error.status in {403, 404}:
        raise error
    return error.message


@require_safe
@permission_required("log.view", raise_exception=True)
def rotation_cards(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Cards to print: one for the wall, one for each station, one for each adult."""
    viewer = person_of(request)
    hour = class_hour(viewer, uid)
    view = rotation_view(viewer, hour)
    if view is None:
        messages.info(request, "There is nothing to print yet.")
        return redirect("rotation", uid)
    rows = {one.pk: one for one in stations_for(viewer)}
    context = {
        "hour": hour,
        "rotation": view,
        "stations": [(card, rows.get(card.station)) for card in station_cards(view)],
        "adults": adult_cards(view),
        "crumbs": [*_crumbs(hour), ("Stations", reverse("rotation", args=[uid]))],
    }
    return render(request, "schedule/stations/cards.html", context)
