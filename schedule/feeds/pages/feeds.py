"""The page of calendar feeds: those that there are, a new one, its address shown once, options, file and month."""

import calendar
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

import segno
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.fields import month_read
from accounts.pages import Crumbs, find_changeable, find_visible, person_of, site_of
from schedule.calendar.models import BusyCalendar
from schedule.feeds.build import FeedEvent
from schedule.feeds.forms import FeedForm
from schedule.feeds.models import Feed
from schedule.feeds.selectors.scope import feed_name
from schedule.feeds.selectors.silent import silent_calendars
from schedule.feeds.selectors.titles import titles_with_names
from schedule.feeds.services.feeds import KINDS_BY_ROLE, feed_add, feed_new_address, feed_options_save, feed_stop
from schedule.feeds.services.versions import feed_body, feed_refresh, shown_between
from schedule.weeks.selectors.pages import district_today

KIND_WORDS = {
    Feed.Kind.TEACHER: ("Your own days", "Sessions, drives, lunch, preparation and meetings, for your phone."),
    Feed.Kind.BUILDING: ("A school, for its office", "When you are there and in which space. Never a student."),
    Feed.Kind.CLASS: ("A class, for its teacher", "When you come for this class or its students."),
    Feed.Kind.SUBSTITUTE: ("Days that you cover", "The covered days; it ends by itself."),
}


def feeds_page() -> str:
    """Address of the list."""
    return reverse("feeds")


def crumbs() -> Crumbs:
    """The list."""
    return [("Phone calendar", feeds_page())]


@require_safe
def feeds(request: HttpRequest) -> HttpResponse:
    """Everyone's own feeds; a coordinator sees the district's."""
    person = person_of(request)
    if not person.has_perm("week.view"):
        raise PermissionDenied
    rows = Feed.objects.visible_to(person).select_related("owner", "building", "school_class", "teacher")
    kinds = KINDS_BY_ROLE.get(person.role, ())
    context = {
        "running": [row for row in rows if row.stopped_at is None],
        "stopped": [row for row in rows if row.stopped_at is not None][:20],
        "kinds": [(kind.value, *KIND_WORDS[kind]) for kind in kinds],
        "silent": silent_calendars(person, timezone.now()),
        "busy": BusyCalendar.objects.visible_to(person),
        "person": person,
    }
    return render(request, "schedule/feeds/list.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def feed_new(request: HttpRequest, kind: str) -> HttpResponse:
    """A new feed; the answer to the form is the only page that ever shows its address."""
    person = person_of(request)
    if kind not in Feed.Kind.values:
        raise Http404
    if kind not in KINDS_BY_ROLE.get(person.role, ()) or not person.has_perm("week.view"):
        raise PermissionDenied
    form = FeedForm(request.POST or None, viewer=person, kind=kind)
    if request.method == "POST" and form.is_valid():
        try:
            feed, address = feed_add(
                actor=person,
                kind=kind,
                values=form.options,
                site=site_of(request),
                names_confirmed=form.cleaned_data.get("names_confirmed", False),
                **form.scope,
            )
        except ValidationError as error:
            form.refuse(error)
        else:
            return show_address(request, feed, address)
    return _form_page(request, form, f"New feed: {KIND_WORDS[Feed.Kind(kind)][0].lower()}", feeds_page())


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def feed_options(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what a feed shows."""
    person = person_of(request)
    feed = find_changeable(Feed, person, pk)
    if feed.owner_id != person.pk:
        raise PermissionDenied
    form = FeedForm(request.POST or None, instance=feed, viewer=person, kind=feed.kind)
    back = reverse("feed", args=[pk])
    if request.method == "POST" and form.is_valid():
        confirmed = form.cleaned_data.get("names_confirmed", False)
        fresh = Feed.objects.get(pk=pk)
        try:
            feed_options_save(actor=person, feed=fresh, values=form.options, names_confirmed=confirmed)
        except ValidationError as error:
            form.refuse(error)
        else:
            messages.success(request, "Saved. Calendars show it the next time they fetch.")
            return redirect(back)
    return _form_page(request, form, f"What “{feed.label}” shows", back)


def _form_page(request: HttpRequest, form: FeedForm, title: str, back: str) -> HttpResponse:
    context = {"form": form, "title": title, "back": back, "crumbs": crumbs()}
    return render(request, "schedule/feeds/form.html", context, status=422 if form.is_bound else 200)


@require_safe
def feed(request: HttpRequest, pk: int) -> HttpResponse:
    """One feed: who fetched it when, what it shows, and the ways to end it."""
    person = person_of(request)
    row = find_visible(Feed, person, pk)
    own = row.owner_id == person.pk
    if own:
        feed_refresh(feed_id=row.pk)
    context = {"feed": row, "name": feed_name(row), "own": own, "crumbs": crumbs()}
    context["titles"] = titles_with_names(row) if own else ()
    return render(request, "schedule/feeds/feed.html", context)


@never_cache
@require_POST
def feed_address_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new address, shown in the answer and never again."""
    row = find_changeable(Feed, person_of(request), pk)
    address = feed_new_address(actor=person_of(request), feed=row, site=site_of(request))
    return show_address(request, row, address)


@require_POST
def feed_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Stop a feed."""
    row = feed_stop(actor=person_of(request), feed=find_changeable(Feed, person_of(request), pk))
    messages.success(request, f"“{row.label}” is stopped. Calendars find it empty, and after two weeks not at all.")
    return redirect("feeds")


def show_address(request: HttpRequest, feed: Feed, address: str) -> HttpResponse:
    """The page with link, address and QR code."""
    webcal = "webcal" + address.removeprefix("https").removeprefix("http")
    code = segno.make(webcal, error="m", micro=False)
    colors = {"dark": "#000", "light": "#fff"}
    picture = code.svg_inline(omitsize=True, border=4, title="QR code of the address", **colors)
    context = {
        "feed": feed,
        "address": address,
        "webcal": webcal,
        "picture": SafeString(picture),
        "secure": address.startswith("https:"),
        "crumbs": crumbs(),
    }
    return render(request, "schedule/feeds/address.html", context)


def _running(request: HttpRequest, pk: int) -> Feed:
    """An own feed that runs: what it shows is between its owner and the address."""
    person = person_of(request)
    row = find_changeable(Feed, person, pk)
    if row.owner_id != person.pk:
        raise PermissionDenied
    if row.stopped_at is not None:
        raise ApplicationError("This feed is stopped. Add a new one.", code="feed_stopped")
    return row


@require_safe
def feed_file(request: HttpRequest, pk: int) -> HttpResponse:
    """The feed as a file, for a calendar that can't subscribe."""
    body = feed_body(_running(request, pk))
    headers = {"Content-Disposition": 'attachment; filename="calendar.ics"', "Cache-Control": "no-store"}
    return HttpResponse(body, content_type="text/calendar; charset=utf-8", headers=headers)


@require_safe
def feed_month(request: HttpRequest, pk: int) -> HttpResponse:
    """What the feed shows in one month, to be printed."""
    person = person_of(request)
    row = _running(request, pk)
    first = _month_in(request) or district_today(person).replace(day=1)
    weeks = calendar.Calendar(firstweekday=0).monthdatescalendar(first.year, first.month)
    found = shown_between(row, weeks[0][0], weeks[-1][-1])
    days = _by_day(found)
    context = {
        "feed": row,
        "name": feed_name(row),
        "month": first,
        "weeks": [[(day, day.month == first.month, days.get(day, [])) for day in week] for week in weeks],
        "today": district_today(person),
        "this_month": district_today(person).replace(day=1) == first,
        "weekend": any(day.weekday() > 4 for day in days),
        "before": (first - dt.timedelta(days=1)).strftime("%Y-%m"),
        "after": (first + dt.timedelta(days=31)).strftime("%Y-%m"),
        "crumbs": [*crumbs(), (row.label, reverse("feed", args=[pk]))],
    }
    return render(request, "schedule/feeds/month.html", context)


def _month_in(request: HttpRequest) -> dt.date | None:
    text = request.GET.get("month", "")
    if not text:
        return None
    month = month_read(text)
    if month is None:
        raise ApplicationError("That isn't a month. Use one such as 2026-10.", code="bad_date", status=400)
    return month


def _by_day(events: Iterable[FeedEvent]) -> dict[dt.date, list[dict[str, Any]]]:
    days: dict[dt.date, list[dict[str, Any]]] = defaultdict(list)
    for event in sorted(events, key=lambda one: (not one.whole_day, one.start.isoformat(), one.uid)):
        start = event.start.date() if isinstance(event.start, dt.datetime) else event.start
        for offset in range((event.last_date - start).days + 1):
            shown = {
                "summary": event.summary,
                "time": None if event.whole_day else event.start,
                "end": None if event.whole_day else event.end,
                "canceled": event.canceled,
                "kind": event.category.name.lower(),
            }
            days[start + dt.timedelta(days=offset)].append(shown)
    return days
