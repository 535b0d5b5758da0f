"""For a request that teams open: with whom the person shares a caseload. Asked anew each time, by today's date."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse

from accounts.models import Person
from accounts.selectors import today_of
from caseload.teams.models import mates_of
from caseload.teams.opened import known_mates, opens


class TeamMiddleware:
    """Sets `Person.mates` where the address is one that teams open, and nowhere else.

    Not for a page that a phone keeps for a day without signal: a mate's students aren't kept there.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> None:
        """Once the address is known, before the page is asked."""
        match = request.resolver_match
        if match is None or not opens(match.view_name, request.method) or bool(getattr(request, "kept", False)):
            return
        person = request.user
        if isinstance(person, Person):
            person.mates = known_mates(mates_of(person, today_of(person)), match.view_name, request.method)
