"""What is open to somebody who stands in by a link: these addresses and no others.

Within them the substitution decides, as for every substitute: its days, its sessions, their students.
"""

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from accounts.models import Person

OPEN_PAGES = frozenset({
    "packet_open", "sign_out", "signed_out", "sign_in", "provider", "provider_back",
    "health", "ready", "metrics", "feed_ics",
    "manual", "manual_whole", "manual_chapter",
})  # fmt: skip
"""What is there for anybody, also for one whose link has ended."""
LINK_PAGES = frozenset({
    # The day with its taps, and what to load for it.
    "day", "day_of", "day_start", "day_arrive", "day_undo", "load_list",
    # What happens in a class hour, and who is at which station.
    "class_hour", "class_hour_run", "rotation", "station_picture",
    # The log of the day, and data on goals.
    "log", "log_session", "log_undo", "data_take", "data_undo", "data_restore",
    # The packet, the miles, the way in and the way out.
    "home", "packet", "packet_open", "sign_out",
    "mileage", "trips_confirm", "trip_new", "trip_correct", "trip_drop", "trip_reopen",
    "voucher_submit", "voucher_list", "voucher", "voucher_file", "voucher_step", "supplement_start",
    "supplement_drop",
    # What everybody has, signed in or not.
    "health", "ready", "metrics", "feed_ics", "manual", "manual_whole", "manual_chapter",
})  # fmt: skip
BY_LINK = "by_link"


class LinkMiddleware:
    """Holds whoever works by a link to the link's pages; everything else isn't there."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: object) -> HttpResponse | None:
        """Once the address is known. A session whose link has ended says so instead of asking for a password."""
        match = request.resolver_match
        if match is None or match.view_name in OPEN_PAGES:
            return None
        person = request.user
        if isinstance(person, Person):
            if person.by_link and match.view_name not in LINK_PAGES:
                raise Http404
            return None
        return render(request, "accounts/link_ended.html", status=404) if BY_LINK in request.session else None
