"""Who works by a link: the one place where what a link opens becomes a person with rights.

A link by which somebody stands in has a person of its own, without a password. Opening it begins a session as
that person; each request asks here again whether the link still opens something. From there on the person is a
substitute like any other: the substitution says which days and sessions, `accounts.sign_in.by_link` which pages.
"""

from django.contrib.auth.backends import BaseBackend
from django.utils import timezone

from accounts.models import Person
from schedule.packet.selectors import link_of_person

BACKEND = "schedule.packet.backends.LinkBackend"


class LinkBackend(BaseBackend):
    """Lets nobody in by itself: a session begins on the link's page."""

    def get_user(self, user_id: int) -> Person | None:
        """Whose session it is, as long as the link holds."""
        person = Person.objects.select_related("district").filter(pk=user_id, by_link=True, is_active=True).first()
        return person if person is not None and link_of_person(person, timezone.now()) is not None else None
