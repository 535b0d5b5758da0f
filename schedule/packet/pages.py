"""Pages of packets: the packet of some days, links to it, and what such a link opens."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required, permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.models import Person
from accounts.pages import find_changeable, site_of
from accounts.selectors import today_in
from accounts.sign_in.by_link import BY_LINK
from accounts.validation import date_problem
from schedule.packet import services
from schedule.packet.backends import BACKEND
from schedule.packet.forms import PacketDaysForm, PacketLinkForm
from schedule.packet.models import PacketLink
from schedule.packet.selectors import (
    MOST_DAYS,
    link_address,
    link_opening,
    link_sessions,
    links_listed,
    packet_of,
)
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import number_in, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for

READ, CHANGE = "caseload.view", "week.change"
FRESH = "packet_address"
BROWSER = "User-Agent"
# Not "no-referrer": a browser then hides where the form comes from even from this site, which refuses it.
PRIVATE = {"Referrer-Policy": "same-origin", "X-Robots-Tag": "noindex, nofollow"}


@require_safe
@permission_required(READ, raise_exception=True)
def packet(request: HttpRequest) -> HttpResponse:
    """The packet of some days, today without any; with the links to it for whoever may make them."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    return _page(request, viewer, teacher)


def _page(
    request: HttpRequest, viewer: Person, teacher: Person, form: PacketLinkForm | None = None, status: int = 200
) -> HttpResponse:
    today = district_today(viewer)
    asked = PacketDaysForm(request.GET if "first" in request.GET else {"first": today, "last": today})
    days = asked.cleaned_data if asked.is_valid() else {"first": today, "last": today}
    first, last = days["first"], max(days["first"], days["last"])
    if date_problem(first) or date_problem(last):
        first = last = today
    teachers = list(teachers_for(viewer))
    context = {
        "teacher": teacher,
        "teachers": teachers if len(teachers) > 1 else [],
        "days_form": asked,
        "packet": packet_of(viewer, teacher, first, last),
        "too_long": (last - first).days >= MOST_DAYS,
        "most_days": MOST_DAYS,
        "linked": not viewer.by_link,
        **_links(
            request, viewer, teacher, form or PacketLinkForm(initial={"first_date": first, "last_date": last})
        ),
    }
    return render(request, "schedule/packet/packet.html", context, status=status)


def _links(request: HttpRequest, viewer: Person, teacher: Person, form: PacketLinkForm) -> Mapping[str, Any]:
    if not viewer.has_perm(CHANGE):
        return {}
    now = timezone.now()
    links = list(links_listed(viewer, teacher))
    return {
        "may_link": True,
        "form": form,
        "fresh": request.session.pop(FRESH, ""),
        "links": [(one, one.is_open(now)) for one in links],
    }


@require_POST
@permission_required(CHANGE, raise_exception=True)
def packet_link_new(request: HttpRequest) -> HttpResponse:
    """Make a link; its address is shown once."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    form = PacketLinkForm(request.POST)
    if not form.is_valid():
        return _page(request, viewer, teacher, form, status=422)
    days = (form.cleaned_data["first_date"], form.cleaned_data["last_date"])
    try:
        _, secret = services.packet_link_make(
            actor=viewer, teacher=teacher, first=days[0], last=days[1], label=form.cleaned_data["label"],
            now=timezone.now(),
        )  # fmt: skip
    except ValidationError as error:
        for name, texts in error.error_dict.items():
            form.add_error(name if name in form.fields else None, list(texts))
        return _page(request, viewer, teacher, form, status=422)
    request.session[FRESH] = link_address(site_of(request), secret)
    return redirect(_address(teacher, *days) + "#links")


def _address(teacher: Person, first: dt.date, last: dt.date) -> str:
    return reverse("packet") + query(teacher=teacher.pk, first=first, last=last)


@require_POST
@permission_required(CHANGE, raise_exception=True)
def packet_link_stop_page(request: HttpRequest, pk: int) -> HttpResponse:
    """End a link at once."""
    viewer = viewer_of(request)
    link = find_changeable(PacketLink, viewer, pk)
    services.packet_link_stop(actor=viewer, link=link, now=timezone.now())
    messages.success(request, "The link opens nothing anymore. Make a new one if it is still needed.")
    return redirect(_address(link.teacher, link.first_date, link.last_date) + "#links")


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def packet_open(request: HttpRequest, secret: str) -> HttpResponse:
    """What a link opens: first whose days they are and until when it holds, and by a press all of it.

    Programs that look at links in messages by themselves send no press: they see no student, and are no view.
    """
    now = timezone.now()
    link = link_opening(secret, now)
    if link is None:
        return _private(render(request, "accounts/link_ended.html", status=404))
    # Nobody is signed in, so nothing else says where the district's clock stands.
    with timezone.override(link.district.time_zone):
        today = today_in(link.district, now)
        begun = link.person is not None and today >= link.first_date
        if request.method != "POST":
            return _private(render(request, "schedule/packet/open.html", {"link": link, "begun": begun}))
        services.packet_view_record(link=link, browser=request.headers.get(BROWSER, ""), now=now)
        if link.person is not None and begun:
            return _private(_work(request, link, link.person, today))
        found = packet_of(link.made_by, link.teacher, link.first_date, link.last_date, only=link_sessions(link))
        return _private(render(request, "schedule/packet/shared.html", {"link": link, "packet": found}))


def _work(request: HttpRequest, link: PacketLink, person: Person, today: dt.date) -> HttpResponse:
    """Begin a session as whoever stands in by a link. It outlives the link by a day, to say that it has ended."""
    secret = request.META["PATH_INFO"]
    # Who counts sign-ins keeps the address and logs it: not this one, which is the secret.
    request.META["PATH_INFO"] = reverse("day")
    try:
        login(request, person, backend=BACKEND)
    finally:
        request.META["PATH_INFO"] = secret
    request.session[BY_LINK] = True
    request.session.set_expiry(link.ends_at + dt.timedelta(days=1))
    return redirect("day_of", today)


def _private(response: HttpResponse) -> HttpResponse:
    for name, value in PRIVATE.items():
        response[name] = value
    return response
