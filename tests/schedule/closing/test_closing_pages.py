"""Pages and API of months of the log: the whole way of a month, and what a page says of it."""

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import delivery_correct
from caseload.delivery.told import Outcome
from caseload.months.models import LogMonth
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.log_builders import bring_to_now, log_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def last_month() -> dt.date:
    """The first day of the month before today's: the pages ask the clock."""
    return (timezone.localdate().replace(day=1) - dt.timedelta(days=1)).replace(day=1)


@pytest.fixture
def entry(cast: Cast, last_month: dt.date) -> DeliveryEntry:
    """A session logged last month, in a school year around today."""
    bring_to_now(cast, timezone.localdate())
    return log_line(cast, last_month + dt.timedelta(days=9))


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


def address(cast: Cast, month: dt.date, act: str = "") -> str:
    """The month's page, or an act on it."""
    return reverse(f"log_month{act}", args=[cast.teacher.pk, f"{month:%Y-%m}"])


def hidden(page: str, name: str) -> str:
    """What a form on the page sends by itself."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None, name
    return found[1]


def test_a_month_is_signed_closed_amended_and_reopened_on_its_page(
    cast: Cast, entry: DeliveryEntry, last_month: dt.date
) -> None:
    """Without scripts: each press is a form, and the page shows who did what."""
    teacher, coordinator = signed_in(cast.teacher), signed_in(cast.coordinator)
    page = teacher.get(address(cast, last_month)).content.decode()
    wrong = teacher.post(
        address(cast, last_month, "_sign"), {"sign-name": "Nobody", "sign-digest": hidden(page, "sign-digest")}
    )
    assert wrong.status_code == 422
    assert f"Type your name as it stands here: {cast.teacher}" in wrong.content.decode()
    told = {"sign-name": str(cast.teacher), "sign-digest": hidden(page, "sign-digest")}
    assert teacher.post(address(cast, last_month, "_sign"), told).status_code == 302
    page = coordinator.get(address(cast, last_month)).content.decode()
    assert "Closes what was signed" in page
    told = {"close-expected_revision": hidden(page, "close-expected_revision"), "close-reason": ""}
    assert coordinator.post(address(cast, last_month, "_close"), told).status_code == 302
    listed = coordinator.get(reverse("log_months"), {"teacher": cast.teacher.pk}).content.decode()
    assert "Closed" in listed
    assert str(cast.coordinator) in listed
    told_in_words = "is refused until a coordinator reopens it"
    assert told_in_words in coordinator.get(address(cast, last_month)).content.decode()
    assert "is refused until" in teacher.get(reverse("log_entry", args=[entry.pk])).content.decode()
    refused = teacher.post(
        reverse("log_correct", args=[entry.pk]),
        {"expected_revision": entry.revision, "client_id": "", "reason": "medical", "delivered_minutes": "10"},
    )
    assert refused.status_code == 422
    page = coordinator.get(address(cast, last_month)).content.decode()
    told = {
        "reopen-expected_revision": hidden(page, "reopen-expected_revision"),
        "reopen-reason": "One was forgotten",
    }
    assert coordinator.post(address(cast, last_month, "_reopen"), told).status_code == 302
    page = coordinator.get(address(cast, last_month)).content.decode()
    assert "One was forgotten" in page
    assert LogMonth.objects.get().status == "open"


def test_an_amendment_stands_beside_what_was_closed(cast: Cast, entry: DeliveryEntry, last_month: dt.date) -> None:
    """Both are on the page, with the day on which the month was closed."""
    api, coordinator = Api(cast.coordinator), signed_in(cast.coordinator)
    where = f"log-months/{cast.teacher.pk}/{last_month:%Y-%m}/"
    api.post(f"{where}close/", 200, expected_revision=1, reason="Nobody signs")
    coordinator.post(reverse("log_month_rules"), {"afterwards": "amend"})
    delivery_correct(
        actor=cast.coordinator, entry=entry, outcome=Outcome(20, "medical", "Read it wrong"), expected_revision=1
    )
    page = coordinator.get(address(cast, last_month)).content.decode()
    assert "Amended since it was closed" in page
    assert "30 of 30 minutes" in page
    assert "20 of 30 minutes, medical" in page
    history = coordinator.get(reverse("log_entry", args=[entry.pk])).content.decode()
    assert history.count("Amendment") == 1
    assert "This month is closed since" in history
    assert "is kept as a dated amendment" in history
    # Only an amendment has to say why: an open month's correction may go without a note.
    form = coordinator.get(reverse("log_correct", args=[entry.pk])).content.decode()
    assert re.search(r"<label[^>]*>Note</label>", form)
    coordinator.post(reverse("log_month_rules"), {"afterwards": "refuse"})
    form = coordinator.get(reverse("log_correct", args=[entry.pk])).content.decode()
    assert re.search(r"<label[^>]*>Note <span class=\"optional\">", form)
    assert "is kept as a dated amendment" in page
    (one, *_) = api.get(where)["since"]
    assert (one["entry"], one["before"]) == (entry.pk, "30 of 30 minutes")


def test_the_api_signs_what_it_has_shown(cast: Cast, entry: DeliveryEntry, last_month: dt.date) -> None:
    """The digest is sent back; an old one is refused, and so is closing what was changed."""
    teacher, coordinator = Api(cast.teacher), Api(cast.coordinator)
    where = f"log-months/{cast.teacher.pk}/{last_month:%Y-%m}/"
    seen = teacher.get(where)
    log_line(cast, last_month + dt.timedelta(days=10))
    told = {"name": str(cast.teacher), "digest": seen["digest"]}
    assert teacher.post(f"{where}sign/", 409, **told)["code"] == "changed_meanwhile"
    told["digest"] = teacher.get(where)["digest"]
    signed = teacher.post(f"{where}sign/", 200, **told)
    assert (signed["status"], signed["acts"][0]["name"]) == ("signed", str(cast.teacher))
    closed = coordinator.post(f"{where}close/", 200, expected_revision=signed["revision"])
    body = {"expected_revision": closed["revision"], "reason": "A session was forgotten"}
    assert coordinator.post(f"{where}reopen/", 200, **body)["status"] == "open"


def test_a_month_that_is_none_is_said(cast: Cast) -> None:
    """400 in the address, and no month without weeks or a log."""
    client = signed_in(cast.coordinator)
    assert client.get(reverse("log_month", args=[cast.teacher.pk, "2026-13"])).status_code == 400
    listed = client.get(reverse("log_months"), {"teacher": cast.mate.pk}).content.decode()
    assert "Not over" in listed
