"""Who gets in with a name and a password: the one place where a given password is used up and ends."""

from collections.abc import Callable
from copy import copy
from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest
from django.utils import timezone

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.people.services import given_password_use
from accounts.selectors import today_of
from accounts.sign_in.provider.asked import passwords_open, provider_asked


class RoleHoldersBackend(ModelBackend):
    """Lets in, and keeps in, whoever is active and holds a role today."""

    def user_can_authenticate(self, user: Any) -> bool:
        """Asked at each sign-in and with each request of a session."""
        return super().user_can_authenticate(user) and bool(user.roles_on(today_of(user)))


class PasswordBackend(RoleHoldersBackend):
    """Django's own, with given passwords good for one sign-in each until they end.

    One that is used up or has ended looks like a wrong one, and counts as a try: nobody learns which it was.
    """

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **more: Any
    ) -> Person | None:
        """Whoever has this name and password, or nobody; nobody at all where the provider alone lets people in."""
        if not passwords_open():
            return None
        person = super().authenticate(request, username=username, password=password, **more)
        if not isinstance(person, Person):
            return None
        return person if not person.password_given or given_password_use(person=person) else None

    def get_user(self, user_id: int) -> Person | None:
        """Whose session it is; one that began with a given password ends with that password."""
        person = _known(super().get_user, user_id)
        if person is None:
            return None
        ends = person.given_password_ends
        return person if ends is None or ends > timezone.now() else None


class ProviderBackend(RoleHoldersBackend):
    """Whose session began at the district's provider: it lets nobody in by itself, the page on the way back does.

    Ends with the setting, and doesn't end with a given password, which these people may never use.
    """

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **more: Any
    ) -> None:
        """Nobody."""

    def get_user(self, user_id: int) -> Person | None:
        """The person, as long as a provider is set up."""
        return _known(super().get_user, user_id) if provider_asked() is not None else None


def _known(read: Callable[[int], object], user_id: int) -> Person | None:
    """The person as Django reads one; once for all sendings of one request, and for each a row of its own."""
    found = shared(("person", user_id), lambda: _with_district(read(user_id)), at_once=True)
    return None if found is None else copy(found)


def _with_district(person: object) -> Person | None:
    """A person with the district, which every request asks for."""
    if not isinstance(person, Person):
        return None
    _district = person.district
    return person
