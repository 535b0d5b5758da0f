"""Clock times on pages are those of the person's district."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from accounts.models import Person

# Addresses of calendar feeds: they must not depend on a session, so none is looked at.
WITHOUT_SESSION = "/feeds/"


class DistrictTimeMiddleware:
    """Moments are kept in UTC; for the length of a request they are shown where the person's district is."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on under the district's time zone."""
        if request.path.startswith(WITHOUT_SESSION):
            return self.get_response(request)
        person = request.user
        if not isinstance(person, Person) or person.district is None:
            return self.get_response(request)
        with timezone.override(ZoneInfo(person.district.time_zone)):
            return self.get_response(request)
