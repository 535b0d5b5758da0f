"""Who stands in during an absence: arranged, changed and ended, with what it does before it is saved."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from accounts.pages import do_and_say, site_of
from schedule.calendar.models import Happening
from schedule.covers.forms import CoverForm
from schedule.covers.selectors import (
    absence_get,
    absence_of,
    cover_get,
    covers_during,
    covers_told,
    sessions_to_cover,
)
from schedule.covers.services import (
    ARRANGE,
    Arranged,
    cover_address_renew,
    cover_arrange,
    cover_change,
    cover_end,
    cover_foresee,
)
from schedule.happenings.effects import HappeningEffects
from schedule.happenings.selectors import told_of
from schedule.packet.selectors import link_address
from schedule.weeks.pages.request import viewer_of

FRESH = "cover_address"
ENDED, MOST_ENDED = "covers_ended", 8
"""In the session: who was said not to come, the last one first, each as it would be arranged again in one press."""


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(ARRANGE, raise_exception=True)
def cover_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Somebody for an absence: who and when, then what it does, then it is saved."""
    viewer = viewer_of(request)
    absence = absence_get(viewer, pk)
    form = _form(request, viewer, absence, Substitution(first_date=absence.first_date, last_date=absence.last_date))

    def arrange() -> Arranged:
        return cover_arrange(actor=viewer, absence=absence, wanted=form.wanted)

    def done(found: Arranged) -> HttpResponse:
        request.session[ENDED] = [one for one in _kept(request) if not _in_place_of(found.cover, one)]
        if found.secret:
            request.session[FRESH] = link_address(site_of(request), found.secret)
        messages.success(request, f"{found.cover.substitute.called} stands in. Calendars and messages say so.")
        return redirect("cover_arrange", absence.pk)

    return _asked(request, viewer, absence, form, arrange, done)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(ARRANGE, raise_exception=True)
def cover_changed(request: HttpRequest, pk: int) -> HttpResponse:
    """Somebody else, other days or other sessions."""
    viewer = viewer_of(request)
    cover = cover_get(viewer, pk)
    absence = absence_of(viewer, cover)
    form = _form(request, viewer, absence, cover)
    kept = cover_get(viewer, pk)

    def change() -> Substitution:
        return cover_change(actor=viewer, cover=kept, wanted=form.wanted)

    def done(found: Substitution) -> HttpResponse:
        messages.success(request, f"Saved: {found.substitute.called} stands in as it says here.")
        return redirect("cover_arrange", absence.pk)

    return _asked(request, viewer, absence, form, change, done)


def _form(request: HttpRequest, viewer: Person, absence: Happening, row: Substitution) -> CoverForm:
    choices = sessions_to_cover(viewer, absence.teacher or viewer, absence.first_date, absence.last_date)
    by_link = row.pk is not None and row.substitute.by_link
    return CoverForm(request.POST or None, viewer=viewer, instance=row, choices=choices, by_link=by_link)


def _asked[T](
    request: HttpRequest,
    viewer: Person,
    absence: Happening,
    form: CoverForm,
    act: Callable[[], T],
    done: Callable[[T], HttpResponse],
) -> HttpResponse:
    """Ask, show what it does, save."""
    if request.method != "POST":
        return _page(request, viewer, absence, form)
    if form.is_valid():
        try:
            if "save" not in request.POST:
                found = cover_foresee(actor=viewer, absence=absence, act=act)
                return _page(request, viewer, absence, form, effects=found)
            return done(act())
        except ValidationError as error:
            form.refuse(error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
    return _page(request, viewer, absence, form, status=422)


def _page(
    request: HttpRequest,
    viewer: Person,
    absence: Happening,
    form: CoverForm,
    *,
    effects: HappeningEffects | None = None,
    status: int = 200,
) -> HttpResponse:
    teacher = absence.teacher or viewer
    rows = covers_during(teacher, absence.first_date, absence.last_date)
    sent = [(name, text) for name in request.POST if name in form.fields for text in request.POST.getlist(name)]
    context: dict[str, Any] = {
        "absence": told_of(viewer, [absence])[0],
        "teacher": teacher,
        "own": teacher == viewer,
        "covers": covers_told(viewer, rows) if form.instance.pk is None else [],
        "changing": form.instance if form.instance.pk else None,
        "form": form,
        "effects": effects,
        "sent": sent,
        "ended": _ended(request, absence),
        "fresh": request.session.pop(FRESH, "") if request.method != "POST" else "",
        "back": reverse("cover_arrange", args=[absence.pk]) if form.instance.pk else reverse("happenings"),
        "crumbs": [("Something happened", reverse("happenings"))],
    }
    return render(request, "schedule/covers/cover.html", context, status=status)


def _kept(request: HttpRequest) -> list[dict[str, Any]]:
    """Whom this person said not to come, for any absence."""
    found: list[dict[str, Any]] = request.session.get(ENDED, [])
    return found


def _ended(request: HttpRequest, absence: Happening) -> list[dict[str, Any]]:
    """Those of one absence."""
    return [one for one in _kept(request) if one["absence"] == absence.pk]


def _in_place_of(cover: Substitution, kept: dict[str, Any]) -> bool:
    """Whether somebody stands in now where another one would be brought back, who then would be refused."""
    sent: dict[str, list[str]] = {}
    for name, value in kept["sent"]:
        sent.setdefault(name, []).append(value)
    meets = sent["first_date"][0] <= str(cover.last_date) and str(cover.first_date) <= sent["last_date"][0]
    mine = {str(one.session_uid) for one in cover.sessions.all()}
    its = set(sent.get("sessions", []))
    return meets and (not mine or not its or bool(mine & its))


def _as_sent(cover: Substitution) -> list[tuple[str, str]]:
    """A cover as the form sends it."""
    who = (
        ("called", cover.substitute.called)
        if cover.substitute.by_link
        else ("substitute", str(cover.substitute_id))
    )
    dates = [("first_date", cover.first_date.isoformat()), ("last_date", cover.last_date.isoformat())]
    return [who, *dates, *(("sessions", str(one.session_uid)) for one in cover.sessions.all())]


@require_POST
@permission_required(ARRANGE, raise_exception=True)
def cover_ended(request: HttpRequest, pk: int) -> HttpResponse:
    """Nobody comes after all."""
    viewer = viewer_of(request)
    cover = cover_get(viewer, pk)
    absence = absence_of(viewer, cover)
    done = f"{cover.substitute.called} doesn’t stand in anymore. Arrange somebody again below."  # noqa: RUF001 -- as pages write it
    kept = {"absence": absence.pk, "name": cover.substitute.called, "by_link": cover.substitute.by_link}
    kept["sent"] = _as_sent(cover)

    def end() -> None:
        cover_end(actor=viewer, cover=cover)
        request.session[ENDED] = [kept, *_kept(request)][:MOST_ENDED]

    do_and_say(request, end, done)
    return redirect("cover_arrange", absence.pk)


@require_POST
@permission_required(ARRANGE, raise_exception=True)
def cover_address(request: HttpRequest, pk: int) -> HttpResponse:
    """Another address for somebody who comes by a link."""
    viewer = viewer_of(request)
    cover = cover_get(viewer, pk)

    def renew() -> None:
        secret = cover_address_renew(actor=viewer, cover=cover)
        request.session[FRESH] = link_address(site_of(request), secret)

    do_and_say(request, renew, "Here is another address. The one before opens nothing anymore.")
    return redirect("cover_arrange", absence_of(viewer, cover).pk)
