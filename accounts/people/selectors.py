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
    rows = Person.objects.filter(district=viewer.district, by_link=False).prefetch_related(
        "offices__building", "roles"
    )
    return rows.order_by("-is_active", "last_name", "first_name", "username")


def people_called(viewer: Person | AnonymousUser, words: str) -> QuerySet[Person]:
    """Those of `people_listed` in whose name or sign-in name each of the words stands, in whatever capitals.

    Compared here and not by the database: SQLite tells É from é.
    """
    wanted, rows = words.casefold().split(), people_listed(viewer)
    named = rows.prefetch_related(None).values_list("pk", "first_name", "last_name", "username")
    found = [pk for pk, *names in named if all(one in " ".join(names).casefold() for one in wanted)]
    return rows.filter(pk__in=found)


def people_of_address(address: str) -> list[Person]:
    """Who can sign in and has this mail address, in whatever capitals it is written.

    The database's own comparison may take two letters for one (İ and i): what is meant is compared here, as
    Django's own form does.
    """
    rows = Person.objects.filter(email__iexact=address, is_active=True, by_link=False, district__isnull=False)
    return [one for one in rows if one.email.casefold() == address.casefold()]
