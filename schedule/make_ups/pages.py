"""Minutes to make up: the list, the slots of one service, booking with one tap, all together in the background."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.pages import do_and_say
from schedule.calendar.words import clock_words
from schedule.happenings.selectors import happening_get
from schedule.make_ups.forms import BookForm, PlanAllForm, SlotsForm
from schedule.make_ups.minutes import OpenMinutes, too_few_words
from schedule.make_ups.selectors.after import offers_after
from schedule.make_ups.selectors.needs import (
    GroupNeed,
    MakeUpNeed,
    booked_sessions,
    group_needs,
    line_to_make_up,
    make_up_needs,
)
from schedule.make_ups.selectors.slots import MakeUpSlots, SlotChoice, make_up_slots
from schedule.make_ups.services.booking import make_up_book, make_up_cancel
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import number_in, uid_in, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for
from schedule.weeks.selectors.weeks import week_get

SHOWN = 12
BAD_CHOICE = "Choose one of the slots in the list."


@require_safe
@permission_required("week.change", raise_exception=True)
def make_ups(request: HttpRequest) -> HttpResponse:
    """Every service of a teacher with open minutes or a booked make-up, and sessions missed by a group."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    chosen = request.GET.get("building", "")
    context = {
        **_waiting(make_up_needs(viewer, teacher, district_today(viewer)), chosen),
        "building": chosen,
        "teacher": teacher,
        "teachers": teachers_for(viewer) if viewer.is_coordinator else (),
        "form": PlanAllForm(initial={"weeks": 4}),
        "crumbs": [("Attention", reverse("attention") + query(teacher=teacher.pk))],
    }
    return render(request, "schedule/make_ups/list.html", context)


@require_safe
@permission_required("week.change", raise_exception=True)
def after(request: HttpRequest, pk: int) -> HttpResponse:
    """What fell out by something that happened and still fits this week, with its miles."""
    viewer = viewer_of(request)
    row = happening_get(viewer, pk)
    teacher = teacher_for(viewer, number_in(request, "teacher") or row.teacher_id)
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    context = {
        "row": row,
        "teacher": teacher,
        "offers": offers_after(viewer, teacher, row, district_today(viewer)),
        "crumbs": [("Something happened", reverse("happenings"))],
    }
    return render(request, "schedule/make_ups/after.html", context)


def _waiting(every: Sequence[MakeUpNeed], building: str) -> dict[str, object]:
    """What waits and what is booked, of one school where its code is given."""
    buildings = {need.student.building.code: need.student.building.name for need in every}
    needs = _of_school(every, building if building in buildings else "")
    waiting = [one for one in needs if one.open]
    return {
        "needs": waiting,
        "groups": [(one, _group_address(one)) for one in group_needs(waiting)],
        "booked": booked_sessions(needs),
        "buildings": _by_name(buildings),
        "plannable": any(one.is_plannable for one in every),
        "minutes": sum(one.minutes for one in every),
    }


def _of_school(needs: Sequence[MakeUpNeed], building: str) -> list[MakeUpNeed]:
    return [one for one in needs if building in {"", one.student.building.code}]


def _by_name(buildings: Mapping[str, str]) -> list[tuple[str, str]]:
    """Codes and names of schools, in the order of their names."""
    return sorted(buildings.items(), key=lambda one: one[1])


def _group_address(group: GroupNeed) -> str:
    """Where slots for a whole group stand."""
    first, *others = (one.line.pk for one in group.members)
    return reverse("make_up_slots", args=[first]) + _asked(group.missed, others)


def _asked(missed: dt.date | None, others: Iterable[int]) -> str:
    return query(makes_up_for=missed, others=",".join(str(one) for one in others))


@require_safe
@permission_required("week.change", raise_exception=True)
def slots(request: HttpRequest, line_id: int) -> HttpResponse:
    """Where the open minutes of one service, or of a group, fit: by date."""
    viewer = viewer_of(request)
    line = line_to_make_up(viewer, line_id, district_today(viewer))
    choice = SlotsForm(request.GET).choice
    try:
        found = make_up_slots(viewer, line, district_today(viewer), choice)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        messages.error(request, error.message)
        return redirect("make_up_slots", line_id)
    context = {
        **_shown(found, request.GET.dict()),
        "found": found,
        "form": SlotsForm({**request.GET.dict(), "until": found.until.isoformat()}),
        "line": line,
        "student": line.plan.student,
        "sessions": _sessions(found.need, choice),
        "others": ",".join(str(one) for one in choice.others),
        "building": choice.building,
        "filtered": choice.weekday is not None or bool(choice.building),
        "crumbs": [("Make-ups", reverse("make_ups") + query(teacher=line.provider_id))],
    }
    return render(request, "schedule/make_ups/slots.html", context)


def _shown(found: MakeUpSlots, asked: Mapping[str, str]) -> dict[str, object]:
    """The first slots, or all of them where that is asked for, and for whom they are."""
    slots = found.slots if asked.get("all") == "1" else found.slots[:SHOWN]
    return {
        "slots": slots,
        "more": len(found.slots) - len(slots),
        "more_url": query(**{**asked, "all": 1}),
        "too_few": too_few_words(found.need.minutes) if found.need.too_few else "",
        "students": [need.student for need in found.target.needs] if found.target else [found.need.student],
        "buildings": _by_name(found.buildings),
    }


def _sessions(need: MakeUpNeed, choice: SlotChoice) -> list[tuple[OpenMinutes, str]]:
    """The missed sessions that one can choose between, with where each leads; none where there is no choice."""
    missed = [one for one in need.open if one.missed is not None]
    if choice.others or len(missed) < 2:
        return []
    return [(one, query(makes_up_for=one.missed)) for one in missed]


@require_POST
@permission_required("week.change", raise_exception=True)
def book(request: HttpRequest, line_id: int) -> HttpResponse:
    """Book one slot."""
    viewer = viewer_of(request)
    line = line_to_make_up(viewer, line_id, district_today(viewer))
    form = BookForm(request.POST)
    if not form.is_valid():
        messages.error(request, BAD_CHOICE)
        return redirect("make_up_slots", line_id)
    back = reverse("make_up_slots", args=[line_id])
    values = form.cleaned_data
    week = do_and_say(
        request,
        lambda: make_up_book(actor=viewer, line=line, today=district_today(viewer), **values),
        lambda booked: _booked(values["date"], values["start"], booked.status),
    )
    return redirect(back if week is not None else back + _asked(values["makes_up_for"], values["others"]))


def _booked(date: dt.date, start: dt.time, status: str) -> str:
    when = f"{date:%A, %B %-d}, {clock_words(start.hour * 60 + start.minute)}"
    if status == "published":
        return f"Booked: {when}. It is in the week."
    return f"Booked: {when}. That week isn't in force yet; the make-up is in its draft."


@require_POST
@permission_required("week.change", raise_exception=True)
def cancel(request: HttpRequest, week_id: int) -> HttpResponse:
    """Take a booking back."""
    viewer = viewer_of(request)
    week = week_get(viewer, week_id)
    uid, done = str(uid_in(request)), "The booking is taken back. Its minutes are open again."
    do_and_say(request, lambda: make_up_cancel(actor=viewer, week=week, uid=uid), done)
    return redirect(reverse("make_ups") + query(teacher=week.teacher_id))


@require_POST
@permission_required("week.change", raise_exception=True)
def plan_all(request: HttpRequest) -> HttpResponse:
    """Place everything that is open in the background."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise Http404
    form = PlanAllForm(request.POST)
    back = reverse("make_ups") + query(teacher=teacher.pk)
    if not form.is_valid():
        messages.error(request, "Choose 1 to 6 weeks.")
        return redirect(back)
    today, weeks = district_today(viewer), form.cleaned_data["weeks"]
    run = do_and_say(request, lambda: make_ups_plan(actor=viewer, teacher=teacher, today=today, weeks=weeks))
    return redirect(back) if run is None else redirect("plan_run", run.pk)
