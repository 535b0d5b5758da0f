"""Records what a substitute is shown of students' care: every page and every answer of the API, in one place."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from accounts.models import Person
from caseload.care.seen import seen_collected
from caseload.care.services.seen import care_views_record

SHOWN = 200


class CareViewMiddleware:
    """Around each request; what was read and not shown, as before a redirect, is no view."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and note what was in the answer."""
        with seen_collected() as students:
            response = self.get_response(request)
        if students and response.status_code == SHOWN and request.method != "HEAD":
            person = request.user
            if isinstance(person, Person) and person.role == Person.Role.SUBSTITUTE:
                match = request.resolver_match
                page = match.view_name if match is not None else ""
                care_views_record(viewer=person, students=students, page=page, now=timezone.now())
        return response
