"""The map of a week's drives, and what it costs to move a building."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import person_of
from accounts.selectors import today_of
from schedule.trips.selectors.road_map import RoadMapView, map_week, road_map_view, week_move_cost
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import date_in, number_in
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import teacher_for, teachers_for
from travel.places.models import Building
from travel.places.pages.tiles import allow_tiles


@require_safe
def road_map(request: HttpRequest) -> HttpResponse:
    """The map page."""
    person = person_of(request)
    if not person.has_perm("week.change"):
        raise PermissionDenied
    teacher = teacher_for(person, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/mileage/nobody.html")
    day = date_in(request, "day")
    monday = monday_of(date_in(request, "monday") or day or today_of(person))
    view = road_map_view(person, teacher, monday, day)
    context = {
        "view": view,
        "teacher": teacher,
        "teachers": teachers_for(person) if person.is_coordinator else (),
        "own": teacher == person,
        "chosen": number_in(request, "building"),
        "buildings": Building.objects.visible_to(person),
        **_around(view, None if teacher == person else teacher),
        **_move(request, person, teacher, view),
    }
    return allow_tiles(request, render(request, "schedule/map/map.html", context), view.ground)


def _around(view: RoadMapView, teacher: Person | None) -> dict[str, Any]:
    """Addresses of the weeks beside this one, of this week, and of its days."""
    here, whose = reverse("road_map"), teacher.pk if teacher else None
    weeks = {-7: "before", 7: "after", 0: "whole"}
    found: dict[str, Any] = {
        name: here + query(monday=view.monday.fromordinal(view.monday.toordinal() + days), teacher=whose)
        for days, name in weeks.items()
    }
    found["days"] = [(day, here + query(monday=view.monday, day=day, teacher=whose)) for day in view.drive_days]
    return found


def _move(request: HttpRequest, person: Person, teacher: Person, view: RoadMapView) -> dict[str, Any]:
    """What was asked about moving one building's work to another, and the answer or why there is none."""
    origin, destination = number_in(request, "from"), number_in(request, "to")
    asked: dict[str, Any] = {"move_from": origin, "move_to": destination}
    week = map_week(person, teacher, view.monday) if origin and destination else None
    if week is None or origin is None or destination is None:
        return asked
    try:
        return {**asked, "move": week_move_cost(person, week, origin, destination)}
    except ApplicationError as error:
        if error.status == 404:
            raise
        return {**asked, "move_problem": error.message}
