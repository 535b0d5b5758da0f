"""Every address, every role: who may, who is refused, and to whom it isn't there."""

import uuid
from collections.abc import Iterator, Mapping
from http.cookies import SimpleCookie
from itertools import product
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from accounts.models import Person
from accounts.people.services import person_password_give
from tests.config.permission_table import API, EVERYONE, PAGES, TABLE, Row
from tests.config.things import Things, make_things
from travel.places.models import BuildingReview

pytestmark = pytest.mark.usefixtures("no_record_of_templates")
METHODS = ("get", "post", "put", "patch", "delete")
MISSING = 10**9


def _names(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield f"{space}{pattern.name}"
        else:
            yield from _names(pattern.url_patterns, f"{pattern.namespace}:" if pattern.namespace else space)


def test_every_route_has_its_row() -> None:
    """And every row its route."""
    assert set(_names(get_resolver().url_patterns)) == set(TABLE)


@pytest.fixture
def things(db: None) -> Things:
    """Made once a test; every request is taken back."""
    return make_things()


@pytest.fixture
def clients(things: Things) -> dict[str, Client]:
    """A signed-in client by letter."""
    cast = things.cast
    people: dict[str, Person] = {
        "T": cast.teacher,
        "M": cast.mate,
        "C": cast.coordinator,
        "O": cast.office,
        "S": cast.substitute,
        "X": cast.stranger,
        "R": BuildingReview.objects.get(pk=things.ids["review"]).reviewer,
    }
    made = {letter: Client() for letter in people}
    for letter, client in made.items():
        client.force_login(people[letter])
    return made


def _send(client: Client, method: str, name: str, row: Row, things: Things, **instead: Any) -> int:
    """The status of one request, which changes nothing in the end."""
    path = reverse(name, kwargs={part: things.value(thing) for part, thing in row.at.items()} | instead)
    named = {key: things.value(value) for key, value in (row.query if method == "get" else row.body).items()}
    options: dict[str, Any] = {}
    if name in API and method != "get":
        options["content_type"] = "application/json"
    cookies = client.cookies.output(attrs=[], header="", sep=";")
    with transaction.atomic():
        response: HttpResponse = getattr(client, method)(path, named or None, **options)
        transaction.set_rollback(True)
    # Signing out has thrown the client's cookie away, and the session is back.
    client.cookies = SimpleCookie(cookies)
    return response.status_code


def _expected(letter: str, method: str, row: Row) -> str:
    if letter in getattr(row, method):
        return "done"
    return "not there" if letter in row.hidden or (method == "get" and letter in row.unseen) else "refused"


def _meaning(method: str, status: int) -> str:
    if status in {403, 404}:
        return "refused" if status == 403 else "not there"
    if method == "get":
        return "done" if status in {200, 302} else f"status {status}"
    # An empty form is answered with what it lacks: the person was let in.
    return "done" if status in {200, 201, 202, 204, 302, 400, 409, 422} else f"status {status}"


@pytest.mark.parametrize("part", [PAGES, API], ids=["pages", "api"])
@pytest.mark.parametrize("letter", list(EVERYONE))
def test_roles(letter: str, part: Mapping[str, Row], things: Things, clients: dict[str, Client]) -> None:
    """Each role with each method that an address has: a test for each role, so that one can be run alone."""
    found, wanted = {}, {}
    for name, row in part.items():
        for method in row.methods:
            key = f"{letter} {method} {name}"
            found[key] = _meaning(method, _send(clients[letter], method, name, row, things))
            wanted[key] = _expected(letter, method, row)
    assert {key: (found[key], wanted[key]) for key in found if found[key] != wanted[key]} == {}


def test_nobody_in_particular(things: Things) -> None:
    """Without a session pages lead to the sign-in, and the API refuses."""
    found, wanted = {}, {}
    for name, row in TABLE.items():
        found[name] = _send(Client(), row.methods[0], name, row, things)
        wanted[name] = 200 if row.public else 403 if name in API else 302
    # For a watcher with its token only, and for a district with a provider: others don't learn that they are there.
    wanted |= dict.fromkeys(("metrics", "provider", "provider_back", "provider_ended", "signed_out"), 404)
    assert found == wanted


def test_with_a_given_password_only_an_own_one_can_be_chosen(things: Things, clients: dict[str, Client]) -> None:
    """Whatever the address, until then: pages lead to the one that changes it, the API refuses."""
    teacher = things.cast.teacher
    # A second step would come between.
    teacher.second_factors.all().delete()
    password = person_password_give(actor=things.cast.coordinator, row=teacher)
    client = Client()
    client.post(reverse("sign_in"), {"username": teacher.username, "password": password})
    found = {}
    for (name, row), letter in product(TABLE.items(), "T"):
        for method in set(row.methods) - ({"post"} if name == "sign_out" else set()):
            found[f"{letter} {method} {name}"] = _send(client, method, name, row, things)
    let_in = {key for key, status in found.items() if status not in {302, 403}}
    assert let_in == {
        "T get health",
        "T get ready",
        "T get metrics",  # not there
        "T get provider",  # nor are these, without a provider
        "T get provider_back",
        "T get signed_out",
        "T get manual",
        "T get manual_whole",
        "T get manual_chapter",
        "T get password_change",
        "T post password_change",
        "T post api:own_password",
        "T get feed_ics",
        "T get packet_open",
        "T post packet_open",
    }


def test_wrong_methods(things: Things, clients: dict[str, Client]) -> None:
    """What an address doesn't offer is 405, for somebody who may do everything else there."""
    found = {}
    for name, row in TABLE.items():
        # Whoever is signed in is led away from the public pages.
        client = Client() if row.public else clients["C"]
        for method in set(METHODS) - set(row.methods):
            found[f"{method} {name}"] = _send(client, method, name, row, things)
    assert {key: status for key, status in found.items() if status != 405} == {}


def test_a_number_that_is_not_there(things: Things, clients: dict[str, Client]) -> None:
    """404 for somebody who may see whatever is there."""
    found = {}
    for name, row in TABLE.items():
        named = [part for part, thing in row.at.items() if not thing.startswith("=")]
        missing: dict[str, Any] = {
            part: uuid.UUID(int=1) if part == "uid" or row.at[part] == "broken_work" else MISSING for part in named
        }
        for method in row.methods if missing else ():
            found[f"{method} {name}"] = _send(clients["C"], method, name, row, things, **missing)
    assert len(found) > 100
    assert {key: status for key, status in found.items() if status != 404} == {}
