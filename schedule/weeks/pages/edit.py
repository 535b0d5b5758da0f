"""Changing a week by hand: move, place, pin, take out, undo, publish, bring back, discard."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.weeks.data import SessionOption, SessionView, UnplacedView, WeekDetail
from schedule.weeks.models import UnplacedSession, WeekPlan
from schedule.weeks.pages.context import chosen_session, chosen_unplaced, option_days, query, strip_context
from schedule.weeks.pages.questions import other_versions, questions_context
from schedule.weeks.pages.request import date_in, number_in, place_in, uid_in, viewer_of
from schedule.weeks.planning.others.ahead import others_ahead
from schedule.weeks.selectors.pages import district_today
from schedule.weeks.selectors.runs import run_get
from schedule.weeks.selectors.weeks import (
    compare_weeks,
    session_options,
    unplaced_options,
    week_detail,
    week_get,
    week_in_force,
)
from schedule.weeks.services import weeks as services
from schedule.weeks.services.drafts import draft_begun
from schedule.weeks.strip.from_week import StripChoice, option_value
from travel.places.models import Space

CHANGED = "changed_meanwhile"


@require_safe
@permission_required("week.change", raise_exception=True)
def week_edit(request: HttpRequest, week_id: int) -> HttpResponse:
    """The editor: the strip with legal places for the session (or unplaced one) that the address names."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    detail = week_detail(viewer, found)
    if not detail.may_edit:
        raise Http404
    if found.status not in {WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED}:
        messages.info(request, "This version is kept as it was. Edit the week in force, or bring this one back.")
        return redirect("week_version", week_id)
    begun = draft_begun(found) if found.status == WeekPlan.Status.PUBLISHED else None
    if begun is not None:
        messages.info(request, f"This continues the draft that {begun.created_by} began.")
        return redirect(reverse("week_edit", args=[begun.pk]) + query(session=request.GET.get("session", "")))
    return _editor(request, viewer, found, detail)


def _editor(request: HttpRequest, viewer: Person, found: WeekPlan, detail: WeekDetail) -> HttpResponse:
    session = chosen_session(detail, request.GET.get("session", ""))
    unplaced = chosen_unplaced(detail, number_in(request, "unplaced"))
    options = tuple(one for one in _options(viewer, found, session, unplaced) if not one.is_now)
    legal = tuple(option for option in options if not option.breaks)
    picked, day = request.GET.get("place", ""), request.GET.get("day", "")
    context = strip_context(
        viewer,
        detail,
        today=district_today(viewer),
        asked_day=date_in(request, "day"),
        link=lambda uid: f"{query(session=uid, day=day)}#panel",
        choice=_choice(session, unplaced, legal or options, day),
        editor=True,
    )
    return render(
        request,
        "schedule/weeks/edit.html",
        context
        | {
            "session": session,
            "unplaced": unplaced,
            "option_days": option_days(legal, picked),
            "warned_days": option_days((option for option in options if option.breaks), picked),
            "day_query": _chosen_query(session, unplaced),
            "in_force": week_in_force(viewer, found.teacher, found.monday),
            "ahead": others_ahead(viewer, found),
            "crumbs": [("Week", _week_address(found))],
        },
    )


def _options(
    viewer: Person, found: WeekPlan, session: SessionView | None, unplaced: UnplacedView | None
) -> tuple[SessionOption, ...]:
    if session is not None:
        return session_options(viewer, found, session.uid)
    if unplaced is not None:
        return unplaced_options(viewer, found, unplaced.id)
    return ()


def _choice(
    session: SessionView | None, unplaced: UnplacedView | None, options: tuple[SessionOption, ...], day: str
) -> StripChoice | None:
    if session is None and unplaced is None:
        return None
    uid = session.uid if session else ""
    unplaced_id = unplaced.id if unplaced and session is None else None

    def link(number: str) -> str:
        place = option_value(options[int(number)])
        return f"{query(session=uid, unplaced=unplaced_id, day=day, place=place)}#panel"

    return StripChoice(uid, options, link)


def _chosen_query(session: SessionView | None, unplaced: UnplacedView | None) -> str:
    """The address of this page without its day, ready for one more value."""
    if session is not None:
        return f"{query(session=session.uid)}&"
    return f"{query(unplaced=unplaced.id)}&" if unplaced is not None else "?"


def _week_address(found: WeekPlan) -> str:
    return reverse("week") + query(teacher=found.teacher_id, week=found.monday)


type Change = Callable[[Person, WeekPlan, int], WeekPlan]


def _change(request: HttpRequest, week_id: int, change: Change, said: str, *, undo: bool = True) -> HttpResponse:
    """Do one change and go back to the editor with what was done, or with why it couldn't be done."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    try:
        changed = change(viewer, found, _revision(request))
    except ApplicationError as error:
        return _refused(request, error, reverse("week_edit", args=[week_id]))
    messages.success(request, _with_undo(said) if undo else said)
    day = request.POST.get("day", "")
    return redirect(reverse("week_edit", args=[changed.pk]) + (query(day=day) if day else ""))


def _refused(request: HttpRequest, error: ApplicationError, address: str) -> HttpResponse:
    """Say why on the page where it was asked; what doesn't exist stays a page of its own."""
    if error.status == 404:
        raise error
    title = "Somebody else changed this week in the meantime" if error.code == CHANGED else "That wasn't done"
    messages.error(request, format_html("<strong>{}</strong> {}", title, error.message))
    return redirect(address)


def _with_undo(said: str) -> SafeString:
    """A message with a button for the editor's own undo form."""
    return format_html('{} <button class="plain undo" type="submit" form="undo-form">Undo</button>', said)


def _revision(request: HttpRequest) -> int:
    revision = number_in(request, "revision")
    if revision is None:
        raise Http404
    return revision


def _space(viewer: Person, space_id: int | None) -> Space | None:
    """The space that a form chose, among those that the viewer may see."""
    if space_id is None:
        return None
    space = Space.objects.visible_to(viewer).filter(pk=space_id).first()
    if space is None:
        raise Http404
    return space


@require_POST
@permission_required("week.change", raise_exception=True)
def session_move(request: HttpRequest, week_id: int) -> HttpResponse:
    """Move a session to one of its legal places."""
    uid = uid_in(request)

    def change(viewer: Person, found: WeekPlan, revision: int) -> WeekPlan:
        date, start, space = place_in(request)
        return services.week_session_move(
            actor=viewer,
            week=found,
            uid=uid,
            date=date,
            start=start,
            space=_space(viewer, space),
            expected_revision=revision,
        )

    return _change(request, week_id, change, "The session is moved.")


@require_POST
@permission_required("week.change", raise_exception=True)
def session_pin(request: HttpRequest, week_id: int) -> HttpResponse:
    """Pin a session, so that planning again leaves it where it is, or take the pin out."""
    uid, pinned = uid_in(request), request.POST.get("pinned") == "1"

    def change(viewer: Person, found: WeekPlan, revision: int) -> WeekPlan:
        return services.week_session_pin(
            actor=viewer, week=found, uid=uid, pinned=pinned, expected_revision=revision
        )

    said = (
        "The session is pinned: planning again leaves it where it is."
        if pinned
        else "The session isn't pinned anymore."
    )
    return _change(request, week_id, change, said)


@require_POST
@permission_required("week.change", raise_exception=True)
def session_remove(request: HttpRequest, week_id: int) -> HttpResponse:
    """Take a session out; its minutes are owed and unplaced from then on."""
    uid = uid_in(request)

    def change(viewer: Person, found: WeekPlan, revision: int) -> WeekPlan:
        return services.week_session_remove(actor=viewer, week=found, uid=uid, expected_revision=revision)

    return _change(request, week_id, change, "The session is taken out. Its minutes are listed under “Not placed”.")


@require_POST
@permission_required("week.change", raise_exception=True)
def unplaced_place(request: HttpRequest, week_id: int) -> HttpResponse:
    """Put an unplaced session at one of its legal places."""
    unplaced_id = number_in(request, "unplaced")

    def change(viewer: Person, found: WeekPlan, revision: int) -> WeekPlan:
        unplaced = UnplacedSession.objects.filter(week=found, pk=unplaced_id or 0).first()
        if unplaced is None:
            raise Http404
        date, start, space = place_in(request)
        return services.week_session_place(
            actor=viewer,
            week=found,
            unplaced=unplaced,
            date=date,
            start=start,
            space=_space(viewer, space),
            expected_revision=revision,
        )

    return _change(request, week_id, change, "The session is placed.")


@require_POST
@permission_required("week.change", raise_exception=True)
def edit_undo(request: HttpRequest, week_id: int) -> HttpResponse:
    """Take the last edit back."""

    def change(viewer: Person, found: WeekPlan, revision: int) -> WeekPlan:
        return services.week_edit_undo(actor=viewer, week=found, expected_revision=revision)

    return _change(request, week_id, change, "The last change is undone.", undo=False)


@require_safe
@permission_required("week.change", raise_exception=True)
def week_compare(request: HttpRequest, week_id: int) -> HttpResponse:
    """A draft beside the week in force (or beside another version that the address names)."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    with_id = number_in(request, "with")
    other = week_get(viewer, with_id) if with_id else week_in_force(viewer, found.teacher, found.monday)
    today = district_today(viewer)
    context: dict[str, Any] = {
        "new": strip_context(viewer, week_detail(viewer, found), today=today),
        "crumbs": [("Week", _week_address(found))],
        "others": other_versions(viewer, found),
        "ahead": others_ahead(viewer, found),
        **questions_context(viewer, found),
    }
    if other is not None and other.pk != found.pk:
        context["comparison"] = compare_weeks(viewer, other, found)
        context["old"] = strip_context(viewer, week_detail(viewer, other), today=today)
        context["old_words"] = context["old"]["detail"].title
    context["new_words"] = context["new"]["detail"].title
    return render(request, "schedule/weeks/compare.html", context)


@require_POST
@permission_required("week.change", raise_exception=True)
def week_publish(request: HttpRequest, week_id: int) -> HttpResponse:
    """Put a draft in force."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    try:
        leave_out = request.POST.get("leave_out") == "1"
        published = services.week_publish(
            actor=viewer, week=found, expected_revision=_revision(request), leave_out=leave_out
        )
    except ApplicationError as error:
        return _refused(request, error, _back_to(request, reverse("week_edit", args=[week_id]), refused=True))
    messages.success(request, f"Version {published.version} is in force.")
    return redirect(_back_to(request, _week_address(published)))


def _back_to(request: HttpRequest, otherwise: str, *, refused: bool = False) -> str:
    """Where a draft of the rest of a day leads: to the day, or to its own page where it was refused."""
    run = number_in(request, "run")
    if run is None:
        return otherwise
    viewer = viewer_of(request)
    found = run_get(viewer, run)
    if refused:
        return reverse("plan_run", args=[run])
    whose = query(teacher=None if viewer == found.teacher else found.teacher_id)
    return reverse("day_of", args=[found.first_date]) + whose


@require_POST
@permission_required("week.change", raise_exception=True)
def week_restore(request: HttpRequest, week_id: int) -> HttpResponse:
    """Bring the version before back, as a new version."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    address = reverse("week_versions") + query(teacher=found.teacher_id, week=found.monday)
    try:
        restored = services.week_restore(actor=viewer, week=found)
    except ApplicationError as error:
        return _refused(request, error, address)
    messages.success(request, f"The week is back as it was, as version {restored.version}.")
    return redirect(_week_address(restored))


@require_POST
@permission_required("week.change", raise_exception=True)
def week_discard(request: HttpRequest, week_id: int) -> HttpResponse:
    """Set a draft aside; it stays among the versions."""
    viewer = viewer_of(request)
    found = week_get(viewer, week_id)
    try:
        services.week_discard(actor=viewer, week=found)
    except ApplicationError as error:
        return _refused(request, error, reverse("week_version", args=[week_id]))
    messages.success(request, "The draft is discarded. It stays in the list of versions.")
    return redirect(_back_to(request, _week_address(found)))
