"""Signing in and out, the lockout, and the frame that each role sees."""

import datetime as dt

import pytest
from django.http import HttpRequest, HttpResponse
from django.template import Context, Template
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from pytest_django import DjangoAssertNumQueries

from accounts.district.middleware import DistrictTimeMiddleware
from accounts.models import Person
from config.error_pages import server_error
from tests.conftest import PASSWORD, Cast

WRONG = {"username": "teacher", "password": "not-the-password"}


def sign_in(client: Client, username: str, password: str = PASSWORD) -> None:
    """Through the page, as a person does."""
    answer = client.post(reverse("sign_in"), {"username": username, "password": password})
    assert answer.status_code == 302, answer.content.decode()


def test_every_page_asks_for_a_sign_in(client: Client, cast: Cast) -> None:
    """The start sends a visitor to the sign-in page and remembers where they were going."""
    answer = client.get("/")
    assert answer.status_code == 302
    assert answer["Location"] == f"{reverse('sign_in')}?next=/"


def test_sign_in_and_out(client: Client, cast: Cast) -> None:
    """Signing out is a POST: a link on another site can't do it."""
    sign_in(client, "teacher")
    assert client.get(reverse("password_change")).status_code == 200
    assert client.get(reverse("sign_out")).status_code == 405
    client.post(reverse("sign_out"))
    assert client.get(reverse("password_change")).status_code == 302


def test_a_wrong_password_says_so_at_the_top_and_keeps_the_name(client: Client, cast: Cast) -> None:
    """The error summary stands above the form; the name needn't be typed again."""
    page = client.post(reverse("sign_in"), WRONG).content.decode()
    assert page.index("error-summary") < page.index("<form method")
    assert 'value="teacher"' in page


def test_five_wrong_tries_shut_one_name_and_not_the_others(client: Client, cast: Cast) -> None:
    """By name and address together, so that one school behind one router isn't locked out (own decision)."""
    answers = [client.post(reverse("sign_in"), WRONG).status_code for _ in range(5)]
    assert answers == [200, 200, 200, 200, 429]
    page = client.post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert page.status_code == 429
    assert "Too many tries" in page.content.decode()
    sign_in(Client(), "mate")


@pytest.mark.parametrize(
    ("username", "seen", "hidden"),
    [
        ("teacher", ["Students", "Buildings", "Calendar", "Rules"], []),
        ("coordinator", ["Students", "Buildings", "Calendar", "Rules"], []),
        ("office", ["Buildings", "Calendar"], ["Students", "Rules", "Import"]),
        ("substitute", ["Students", "Buildings", "Calendar"], ["Rules", "Import"]),
    ],
)
def test_the_navigation_shows_what_the_role_may_do(
    client: Client, cast: Cast, username: str, seen: list[str], hidden: list[str]
) -> None:
    """A page that a role can't open isn't offered to it."""
    sign_in(client, username)
    page = client.get(reverse("password_change")).content.decode()
    assert all(f">{label}</a>" in page for label in seen)
    assert not any(f">{label}</a>" in page for label in hidden)


def test_an_address_that_is_not_there_gives_a_page_with_a_way_on(client: Client, cast: Cast) -> None:
    """No traceback, and a link to the start."""
    client.force_login(cast.teacher, backend="accounts.sign_in.backends.PasswordBackend")
    answer = client.get("/nothing-of-the-kind/")
    assert answer.status_code == 404
    assert f'href="{reverse("home")}"' in answer.content.decode()


def test_a_page_that_is_not_there_leaves_the_open_form_its_token(client: Client, cast: Cast) -> None:
    """A browser asks for /favicon.ico by itself, also while the sign-in page is on its way (common practice, no
    source): an answer that set a cookie of its own would put the form's token out of date."""
    answer = client.get("/favicon.ico")
    assert (answer.status_code, list(answer.cookies)) == (404, [])
    assert list(client.get(reverse("sign_in")).cookies) == ["csrftoken"]


def test_the_password_can_be_changed(client: Client, cast: Cast) -> None:
    """And the old one no longer opens the door."""
    sign_in(client, "teacher")
    fresh = "another-long-enough-one"
    client.post(
        reverse("password_change"), {"old_password": PASSWORD, "new_password1": fresh, "new_password2": fresh}
    )
    client.post(reverse("sign_out"))
    sign_in(client, "teacher", fresh)


def test_the_page_for_a_broken_site_asks_the_database_nothing(
    cast: Cast, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    """It may be the database that is broken."""
    request = RequestFactory().get("/")
    request.user = SimpleLazyObject(lambda: Person.objects.get(username="teacher"))  # type: ignore[assignment]  # lazy as in use
    with django_assert_num_queries(0):
        answer = server_error(request)
    assert answer.status_code == 500
    assert "Something broke" in answer.content.decode()


def test_moments_are_shown_where_the_district_is(client: Client, cast: Cast) -> None:
    """14:30 UTC on January 8 is 9:30 in New York (UTC-5 in winter) and 8:30 in Iowa (UTC-6)."""
    moment = dt.datetime(2027, 1, 8, 14, 30, tzinfo=dt.UTC)
    shown = {}
    for person in (cast.coordinator, cast.stranger):
        Person.objects.filter(pk=person.pk).update(last_login=moment)
        request = RequestFactory().get("/")
        request.user = Person.objects.get(pk=person.pk)

        def show(request: HttpRequest) -> HttpResponse:
            words = Template("{{ user.last_login|date:'g:i A' }}").render(Context({"user": request.user}))
            return HttpResponse(words)

        shown[person.username] = DistrictTimeMiddleware(show)(request).content.decode()
    assert shown == {"coordinator": "9:30 AM", "stranger": "8:30 AM"}
