"""The week as it stands: in force, any version of it, its history, and on paper."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.models import Person
from accounts.pages import looks_only
from schedule.weeks.data import WeekDetail
from schedule.weeks.models import WeekPlan
from schedule.weeks.pages.context import chosen_session, query, strip_context, wall_context
from schedule.weeks.pages.request import date_in, number_in, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.arrivals import week_arrivals
from schedule.weeks.selectors.gaps import week_against_owed
from schedule.weeks.selectors.pages import (
    caseload_is_empty,
    district_today,
    is_mates,
    teacher_for,
    teachers_seen,
)
from schedule.weeks.selectors.weeks import (
    week_detail,
    week_get,
    week_in_force,
    week_versions,
    weeks_in_force_around,
)
from schedule.weeks.strip.from_week import only_building
from travel.places.models import Building

WEEK = dt.timedelta(days=7)
LAST_SCHOOL_DAY = dt.timedelta(days=4)


@require_safe
@permission_required("week.view", raise_exception=True)
def week(request: HttpRequest) -> HttpResponse:
    """The week in force of a teacher whom this person may ask for: this week's, or that of a date.

    With `start` (after signing in), where no week is in force this week, the next one that is; in a district
    without a school, its first steps.
    """
    viewer = viewer_of(request)
    today = district_today(viewer)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    monday = monday_of(date_in(request, "week") or today)
    if teacher is None or _begins_bare(request, viewer):
        return _nothing_yet(request, viewer)
    context = _around(viewer, teacher, monday, today)
    found = week_in_force(viewer, teacher, monday)
    if found is None:
        last = monday + dt.timedelta(days=6)
        before, after = weeks_in_force_around(viewer, teacher, monday)
        if after is not None and "start" in request.GET:
            return redirect(reverse("week") + query(teacher=context["asked_teacher"], week=after))
        context |= {
            "in_force_before": before,
            "in_force_after": after,
            "versions": week_versions(viewer, teacher, monday),
            "caseload_empty": viewer.has_perm("caseload.view") and caseload_is_empty(teacher, monday, last),
        }
        return render(request, "schedule/weeks/none_yet.html", context)
    context |= _shown(request, viewer, found, today)
    context["wont_be"] = _wont_be(context["detail"], today)
    context["changed_since"] = _has_changed(context["detail"])
    if not is_mates(viewer, teacher):
        owed = week_against_owed(viewer, found, today)
        context |= {"gaps": owed.left_out, "beyond": owed.beyond}
        context["changed_since"] |= bool(owed.left_out or owed.beyond)
    return render(request, "schedule/weeks/week.html", context)


def _begins_bare(request: HttpRequest, viewer: Person) -> bool:
    """Whether somebody has just signed in who can set a district up that has no school yet."""
    if "start" not in request.GET or not viewer.has_perm("district.change"):
        return False
    return not Building.objects.visible_to(viewer).exists()


def _nothing_yet(request: HttpRequest, viewer: Person) -> HttpResponse:
    """To the first steps; a page that says that nobody teaches here for whoever doesn't take them."""
    if _begins_bare(request, viewer):
        return redirect("beginning")
    return render(request, "schedule/weeks/nobody.html")


def _has_changed(detail: WeekDetail) -> bool:
    """Whether something of a week doesn't take place as it was planned."""
    return any(one.off or one.without for day in detail.days for one in day.sessions)


@dataclass(frozen=True, slots=True)
class WontBe:
    """What is known to fall out of a week from today on: by date how many sessions and why, as clauses.

    `today`, `ahead`: from which dates it can be planned again.
    """

    days: tuple[tuple[dt.date, int, tuple[str, ...]], ...]
    today: dt.date | None
    ahead: dt.date | None


def _wont_be(detail: WeekDetail, today: dt.date) -> WontBe | None:
    """Days ahead for which a week is planned and that won't be so; none where all of it is held."""
    off = [(day.date, [one.off for one in day.sessions if one.off]) for day in detail.days if day.date >= today]
    days = tuple((date, len(whys), tuple(dict.fromkeys(whys))) for date, whys in off if whys)
    if not days:
        return None
    ahead = max(detail.monday, today + dt.timedelta(days=1))
    has_today = days[0][0] == today
    return WontBe(days, today if has_today else None, ahead if ahead <= detail.monday + LAST_SCHOOL_DAY else None)


@require_safe
@permission_required("week.view", raise_exception=True)
def week_version(request: HttpRequest, week_id: int) -> HttpResponse:
    """One version of a week, whatever its state, to be read."""
    viewer = viewer_of(request)
    today = district_today(viewer)
    found = week_get(viewer, week_id)
    context = _around(viewer, found.teacher, found.monday, today) | _shown(request, viewer, found, today)
    return render(request, "schedule/weeks/week.html", context | {"by_version": True})


def _shown(request: HttpRequest, viewer: Person, found: WeekPlan, today: dt.date) -> dict[str, Any]:
    """A week drawn, with the session that the address names beside it."""
    detail = week_detail(viewer, found)
    uid = request.GET.get("session", "")
    keep = {name: request.GET.get(name, "") for name in ("teacher", "week")}
    context = strip_context(
        viewer,
        detail,
        today=today,
        asked_day=date_in(request, "day"),
        link=lambda one: f"{query(**keep, session=one, day=request.GET.get('day', ''))}#panel",
    )
    judged = found.teacher_id == viewer.pk or viewer.is_coordinator
    return context | {
        "arrivals": week_arrivals(viewer, found) if judged else None,
        "session": chosen_session(detail, uid),
        "today": today,
        "here": query(**keep),
        "day_query": f"{query(**keep)}&" if any(keep.values()) else "?",
    }


def _around(viewer: Person, teacher: Person, monday: dt.date, today: dt.date) -> dict[str, Any]:
    """Whose week, which one, and the ways to the weeks before and after."""
    teachers = teachers_seen(viewer)
    asked = teacher.pk if len(teachers) > 1 or teacher not in teachers else None
    address = reverse("week")
    return {
        "teacher": teacher,
        "teachers": teachers,
        "asked_teacher": asked,
        "own": teacher == viewer,
        "monday": monday,
        "sunday": monday + dt.timedelta(days=6),
        "this_week": monday == monday_of(today),
        "before_url": address + query(teacher=asked, week=monday - WEEK),
        "after_url": address + query(teacher=asked, week=monday + WEEK),
        "today_url": address + query(teacher=asked),
        "week_url": address + query(teacher=asked, week=monday),
        "plan_url": reverse("plan") + query(teacher=asked, week=monday),
        "versions_url": reverse("week_versions") + query(teacher=asked, week=monday),
        "may_change": viewer.has_perm("week.change") and not is_mates(viewer, teacher),
        **_of_mate(viewer, teacher),
    }


def _of_mate(viewer: Person, teacher: Person) -> dict[str, Any]:
    """A mate's week is looked at; its sessions are logged where the team shares the log."""
    if not is_mates(viewer, teacher):
        return {}
    logs = any(one.logs and one.person_id == teacher.pk for one in viewer.mates)
    return looks_only(viewer, {"log.write"} if logs else ())


@require_safe
@permission_required("week.change", raise_exception=True)
def versions(request: HttpRequest) -> HttpResponse:
    """Who made which version of a week, when, and what changed."""
    viewer = viewer_of(request)
    today = district_today(viewer)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    monday = monday_of(date_in(request, "week") or today)
    lines = week_versions(viewer, teacher, monday)
    replaced = [line for line in lines if line.status == WeekPlan.Status.REPLACED]
    context = _around(viewer, teacher, monday, today) | {
        "versions": lines,
        "last_replaced": max(replaced, key=lambda line: line.version or 0, default=None),
        "in_force": next((line for line in lines if line.status == WeekPlan.Status.PUBLISHED), None),
        "crumbs": [("Week", reverse("week") + query(teacher=number_in(request, "teacher"), week=monday))],
    }
    return render(request, "schedule/weeks/versions.html", context)


@require_safe
@permission_required("week.view", raise_exception=True)
def week_print(request: HttpRequest, week_id: int) -> HttpResponse:
    """A week on one landscape page for a wall, without students; of all buildings, or of one."""
    viewer = viewer_of(request)
    detail = week_detail(viewer, week_get(viewer, week_id))
    building_id = number_in(request, "building")
    place = next((place for place in detail.places if place.id == building_id), None)
    if building_id is not None and place is None:
        raise Http404
    shown = detail if building_id is None else only_building(detail, building_id)
    context = wall_context(viewer, shown, whole=place is None) | {
        "place": place,
        "back_url": reverse("week_version", args=[week_id]),
    }
    return render(request, "schedule/weeks/print.html", context)
