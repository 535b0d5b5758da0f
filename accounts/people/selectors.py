"""Reads about people, for the coordinator who keeps them."""

from django.contrib.auth.models import AnonymousUser
from django.db.models import QuerySet

from accounts.models import Person


def people_listed(viewer: Person | AnonymousUser) -> QuerySet[Person]:
    """Everyone of the viewer's district with the offices' buildings, those who may sign in first.

    Not those who stand in by a link: they have no sign-in to keep.
    """
    if not isinstance(viewer, Person) or viewer.district is None or not viewer.has_perm("people.change"):
        return Person.objects.none()
    rows = Person.objects.filter(district=viewer.district, by_link=False).prefetch_related("offices__building")
    return rows.order_by("-is_active", "last_name", "first_name", "username")
