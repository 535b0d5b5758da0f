"""One timetable for the term: asking for it, looking at it, putting it in force, taking it back."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.models import Person
from schedule.calendar.words import listed
from schedule.terms.changing import Way
from schedule.terms.data import KindView, TermView, TermWeekView
from schedule.terms.forms import PlanTermForm
from schedule.terms.models import TermPlan
from schedule.terms.pages.curve import curve_context
from schedule.terms.selectors.ahead import term_ahead
from schedule.terms.selectors.dates import term_end
from schedule.terms.selectors.terms import STATES, gives_way_to, term_detail, term_get, term_state, terms_of
from schedule.terms.selectors.worth import worth_offered
from schedule.terms.services import publishing
from schedule.terms.services.plans import term_plan_start
from schedule.weeks.pages.context import query, strip_context, wall_context
from schedule.weeks.pages.request import date_in, number_in, place_in_list, started, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for
from schedule.weeks.selectors.school_weeks import next_week_to_plan
from schedule.weeks.selectors.weeks import week_detail, week_get
from schedule.weeks.versions.standing import standing_in_force


@require_safe
@permission_required("week.change", raise_exception=True)
def terms(request: HttpRequest) -> HttpResponse:
    """A teacher's terms: what is in force, what is a draft, what was taken back."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    rows = [(one, term_state(one)) for one in terms_of(viewer, teacher)]
    context = {
        "teacher": teacher,
        "teachers": teachers_for(viewer) if viewer.is_coordinator else (),
        "terms": [
            {"term": one, "state": state, "label": STATES[state], "gives_way": gives_way_to(viewer, one)}
            for one, state in rows
        ],
        "plan_url": reverse("term_plan") + query(teacher=teacher.pk),
        "crumbs": [("Plan", reverse("plan") + query(teacher=teacher.pk))],
    }
    return render(request, "schedule/terms/list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("week.change", raise_exception=True)
def term_plan(request: HttpRequest) -> HttpResponse:
    """Choose dates and what routine is worth."""
    viewer = viewer_of(request)
    teachers = teachers_for(viewer)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    first = date_in(request, "week") or next_week_to_plan(viewer, teacher, district_today(viewer))
    in_force = standing_in_force(teacher, first)
    last_date = in_force.last_day if in_force else term_end(teacher, first)
    asked = place_in_list(request, "worth")
    worth = worth_offered(viewer, teacher, first) if asked is None else asked
    # As the form has it once it is sent, as the link that leads here has it before.
    initial = {"teacher": teacher, "first_date": first, "last_date": last_date, "worth": worth}
    form = PlanTermForm(request.POST or None, teachers=teachers, initial=initial)
    if request.method == "POST" and form.is_valid():
        started = _started(viewer, form, teacher)
        if started is not None:
            return redirect("term", started.pk)
    context = {
        "form": form,
        "teacher": teacher,
        "in_force": in_force,
        "crumbs": _crumbs(teacher),
    }
    return render(request, "schedule/terms/plan.html", context, status=422 if form.errors else 200)


def _started(viewer: Person, form: PlanTermForm, teacher: Person) -> TermPlan | None:
    """The term, or None with the reason standing in the form."""
    values = form.cleaned_data
    return started(
        form,
        lambda: term_plan_start(
            actor=viewer,
            teacher=values.get("teacher", teacher),
            first_date=values["first_date"],
            last_date=values["last_date"],
            worth=values["worth"],
            afresh=values["afresh"],
            time_limit=values["time_limit"],
        ),
    )


def _crumbs(teacher: Person) -> list[tuple[str, str]]:
    asked = query(teacher=teacher.pk)
    return [("Plan", reverse("plan") + asked), ("Term", reverse("terms") + asked)]


@require_safe
@permission_required("week.change", raise_exception=True)
def term(request: HttpRequest, term_id: int) -> HttpResponse:
    """How far a term is; its standing timetable, weeks and exceptions when it is planned."""
    viewer = viewer_of(request)
    row = term_get(viewer, term_id)
    view = term_detail(viewer, row)
    begins = max(view.first_date, _next_monday(district_today(viewer)))
    context = {
        "term": view,
        "teacher": row.run.teacher,
        "change_url": reverse("term_plan") + query(teacher=view.teacher_id, week=begins),
        "crumbs": _crumbs(row.run.teacher),
        "again_url": reverse("term_plan") + query(teacher=view.teacher_id),
    }
    week = date_in(request, "exceptions")
    if request.headers.get("HX-Request") and week is not None:
        return render(request, "schedule/terms/term.html#exceptions", {"week": _week_of(view, week)})
    if request.headers.get("HX-Request"):
        answer = render(request, "schedule/terms/term.html#progress", context)
        if view.run.is_over:
            answer["HX-Refresh"] = "true"
        return answer
    chosen = _chosen_kind(view, number_in(request, "week"))
    context |= {
        "ahead": term_ahead(viewer, row),
        "chosen": chosen,
        "opened": week,
        **_kinds_beside(view, chosen),
        **_drawn(viewer, chosen, day=date_in(request, "day")),
    }
    return render(request, "schedule/terms/term.html", context | curve_context(viewer, row))


def _week_of(view: TermView, monday: dt.date) -> TermWeekView:
    """A week of a term; 404 where it has none of that date."""
    found = next((week for week in view.weeks if week.monday == monday), None)
    if found is None:
        raise Http404
    return found


def _next_monday(today: dt.date) -> dt.date:
    return today + dt.timedelta(days=7 - today.weekday())


def _chosen_kind(view: TermView, week: int | None) -> KindView | None:
    """The kind of week whose drawing is shown: that of the address, else the first letter's plainest."""
    drawn = [one for one in view.kinds if one.week_id is not None]
    return next((one for one in drawn if one.week_id == week), next(iter(_plainest(drawn)), None))


def _kinds_beside(view: TermView, chosen: KindView | None) -> dict[str, Any]:
    """One week of each letter, and of the chosen letter one for each turn of a rotation."""
    drawn = [one for one in view.kinds if one.week_id is not None]
    return {
        "letters": _plainest(drawn),
        "turns": [one for one in drawn if chosen is not None and one.kind == chosen.kind],
    }


def _plainest(kinds: Sequence[KindView]) -> list[KindView]:
    """Of each letter the kind whose week has fewest exceptions, the first of equal ones."""
    letters: dict[str, KindView] = {}
    for one in sorted(kinds, key=lambda one: (one.exceptions, one.monday)):
        letters.setdefault(one.kind, one)
    return sorted(letters.values(), key=lambda one: one.kind)


def _drawn(
    viewer: Person, kind: KindView | None, *, wall: bool = False, day: dt.date | None = None
) -> dict[str, Any]:
    """The week that shows a kind best, drawn; ``day`` is that of a narrow screen."""
    if kind is None or kind.week_id is None:
        return {}
    detail = week_detail(viewer, week_get(viewer, kind.week_id))
    if wall:
        return wall_context(viewer, detail, whole=True)
    return strip_context(viewer, detail, today=detail.monday, asked_day=day)


@require_safe
@permission_required("week.change", raise_exception=True)
def term_print(request: HttpRequest, term_id: int) -> HttpResponse:
    """The standing timetable on paper, without students: a week of each letter drawn, then every session."""
    viewer = viewer_of(request)
    view = term_detail(viewer, term_get(viewer, term_id))
    letters = _kinds_beside(view, None)["letters"]
    drawn = [{"kind": one, **_drawn(viewer, one, wall=True)} for one in letters]
    return render(request, "schedule/terms/print.html", {"term": view, "drawn": drawn})


@require_POST
@permission_required("week.change", raise_exception=True)
def term_publish(request: HttpRequest, term_id: int) -> HttpResponse:
    """Put the timetable and all of its weeks in force."""
    viewer = viewer_of(request)
    leave_out = request.POST.get("leave_out") == "1"
    done = publishing.term_publish(actor=viewer, term=term_get(viewer, term_id), leave_out=leave_out)
    weeks = "1 week is" if done.weeks == 1 else f"{done.weeks} weeks are"
    messages.success(
        request, f"The standing timetable and {weeks} in force. It can be taken back at the end of this page."
    )
    for refused in done.refused:
        messages.warning(request, f"Not published. {refused}")
    return redirect("term", term_id)


@require_POST
@permission_required("week.change", raise_exception=True)
def standing_publish(request: HttpRequest, term_id: int) -> HttpResponse:
    """Put the timetable in force, without its weeks."""
    viewer = viewer_of(request)
    publishing.standing_publish(actor=viewer, term=term_get(viewer, term_id))
    messages.success(request, "The standing timetable is in force. Its weeks are drafts: publish them one by one.")
    return redirect("term", term_id)


@require_POST
@permission_required("week.change", raise_exception=True)
def term_take_back(request: HttpRequest, term_id: int) -> HttpResponse:
    """Take the timetable out of force with the weeks that haven't begun."""
    viewer = viewer_of(request)
    done = publishing.term_take_back(actor=viewer, term=term_get(viewer, term_id), today=district_today(viewer))
    messages.success(request, taken_back_words(done))
    return redirect("term", term_id)


@require_POST
@permission_required("week.change", raise_exception=True)
def term_way(request: HttpRequest, term_id: int) -> HttpResponse:
    """Plan the same weeks by the other way to change the timetable; what this term planned stays as it is."""
    viewer = viewer_of(request)
    row = term_get(viewer, term_id)
    asked = request.POST.get("way", "")
    if asked not in set(Way):
        raise Http404
    started = term_plan_start(
        actor=viewer,
        teacher=row.run.teacher,
        first_date=row.run.first_date,
        last_date=row.run.last_date,
        worth=row.worth,
        way=Way(asked),
        seed=row.run.seed,
        time_limit=row.run.time_limit,
    )
    return redirect("term", started.pk)


def taken_back_words(done: publishing.TermTakenBack) -> str:
    """What was taken back, in sentences."""
    parts = ["The standing timetable is taken back."]
    if done.restored:
        parts.append(f"{done.restored} week{'s are' if done.restored > 1 else ' is'} as before.")
    if done.emptied:
        parts.append(f"{done.emptied} week{'s have' if done.emptied > 1 else ' has'} no plan in force now.")
    if done.stayed:
        stays = "stay" if len(done.stayed) > 1 else "stays"
        parts.append(f"{listed(done.stayed)} had begun and {stays} as published.")
    return " ".join(part[:1].upper() + part[1:] for part in parts)
