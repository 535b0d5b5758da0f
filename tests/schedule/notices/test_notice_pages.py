"""The page of messages and its API: own things only, the text to copy, a test, once more."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from accounts.models import Person
from schedule.notices.models import Hearing, Notice
from tests.schedule.feeds.conftest import Ground
from tests.schedule.notices.test_outbox import add


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


@pytest.mark.usefixtures("no_mail_server")
def test_without_a_mail_server_it_says_so_and_gives_the_text(addressed: Ground) -> None:
    """To send from the phone: RFC 6068 for mail, RFC 5724 for a text message."""
    client = signed_in(addressed.cast.teacher)
    assert "Nothing was told yet." in client.get("/told/").text
    add(addressed)
    page = client.get("/told/").text
    assert "Nobody is told" in page
    assert "mailto:teacher@school.example?subject=Tomorrow%3A%201%20change&amp;body=8%3A30" in page
    assert "sms:?body=Tomorrow" in page
    assert "Send again" not in page


def test_each_sees_their_own_and_a_coordinator_the_districts(addressed: Ground) -> None:
    """Another teacher and another district nothing."""
    cast = addressed.cast
    row = add(addressed)
    for person, sees in (
        (cast.teacher, True),
        (cast.coordinator, True),
        (cast.mate, False),
        (cast.stranger, False),
    ):
        assert (row.subject in signed_in(person).get("/told/").text) is sees
        assert (signed_in(person).post(f"/told/{row.pk}/again/").status_code == 404) is not sees


def test_what_one_hears_is_changed_and_changed_back(addressed: Ground) -> None:
    """By page and by API, the same row."""
    client, teacher = signed_in(addressed.cast.teacher), addressed.cast.teacher
    assert "teacher@school.example" in client.get("/told/").text
    page = client.post("/told/mine/", {"mail": "nonsense", "at_once": "on"})
    assert page.status_code == 422
    client.post("/told/mine/", {"mail": "own@home.example", "by_mail": "on", "in_the_evening": "on"})
    row = Hearing.objects.get(person=teacher)
    assert (row.mail, row.at_once, row.in_the_evening) == ("own@home.example", False, True)
    assert "Tomorrow in the evening" in client.get("/told/").text
    api = APIClient()
    api.force_authenticate(teacher)
    assert api.patch("/api/1/hearing/", {"at_once": True, "mail": ""}, format="json").json() == {
        "mail": "", "by_mail": True, "at_once": True, "in_the_evening": True,
    }  # fmt: skip


def test_the_district_says_when_the_evening_is(addressed: Ground) -> None:
    """A coordinator; a teacher may not."""
    cast = addressed.cast
    assert signed_in(cast.teacher).get("/told/district/").status_code == 403
    client = signed_in(cast.coordinator)
    client.post("/told/district/", {"evening_at": "19:30"})
    page = client.get("/told/").text
    assert "7:30 PM" in page
    assert "not written to" in page


def test_a_test_message_by_page_and_api(addressed: Ground) -> None:
    """It stands among those that were told."""
    client = signed_in(addressed.cast.teacher)
    assert "It works" in client.post("/told/test/", follow=True).text
    addressed.clock.forward(seconds=1)
    api = APIClient()
    api.force_authenticate(Person.objects.get(pk=addressed.cast.teacher.pk))
    made = api.post("/api/1/notices/test/")
    assert made.status_code == 201
    assert Notice.objects.count() == 2
    assert [one["subject"] for one in api.get("/api/1/notices/").json()["results"]] == ["It works", "It works"]
    assert api.post(f"/api/1/notices/{made.json()['id']}/again/").status_code == 409
