"""In which of the own roles a session works: asked anew with every request, so that a role ends when it ends."""

from collections.abc import Callable
from functools import partial

from django.contrib.auth.middleware import get_user
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.utils.functional import SimpleLazyObject

from accounts.models import Person
from accounts.roles.selectors import role_begun
from accounts.selectors import today_of

ROLE = "role"
"""Where a session keeps the role that was chosen in it."""


class RoleMiddleware:
    """Sets the role on the person whom a request finds, once anything asks who it is.

    The session's own, if it is held today; else the one chosen last; else the one held longest.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        request.user = SimpleLazyObject(partial(_in_role, request))  # type: ignore[assignment]  # as Django's own does
        return self.get_response(request)


def _in_role(request: HttpRequest) -> Person | AnonymousUser:
    person = get_user(request)
    if not isinstance(person, Person):
        return AnonymousUser()
    chosen = request.session.get(ROLE, "")
    role = role_begun(person, chosen)
    if len(person.roles_on(today_of(person))) > 1 and chosen != role:
        # From here on a choice in another session changes nothing in this one.
        request.session[ROLE] = role
    return person.act_as(role)
