"""Minutes that nobody planned, sent twice or lying over a logged session: asked about first. By hand."""

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import ALIKE, delivery_log
from caseload.delivery.told import LogItem, Outcome
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground
from tests.schedule.log_builders import evening_of, log_session, publish_session

DAY = date(0)
NOW = evening_of(date(4))


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """A session from 8:30 to 9:00 on Monday, logged."""
    make_ground(cast)
    log_session(cast.teacher, publish_session(DAY, [cast.line], "8:30", "9:00"))
    return cast


def item(cast: Cast, minutes: int = 20, start: str | None = None, *, confirmed: bool = False) -> LogItem:
    """So many minutes of Monday that nobody planned."""
    began = dt.time.fromisoformat(start) if start else None
    return LogItem(uuid.uuid4(), cast.line, DAY, 0, Outcome(minutes), began, confirmed=confirmed)


def test_the_same_minutes_twice_are_asked_about_and_stored_only_when_confirmed(ground: Cast) -> None:
    """Two sendings of their own, so that the id doesn't tell: once they were simply counted twice."""
    delivery_log(actor=ground.teacher, item=item(ground), now=NOW)
    with pytest.raises(ApplicationError, match="20 minutes of this service are logged on") as asked:
        delivery_log(actor=ground.teacher, item=item(ground), now=NOW)
    assert asked.value.code == ALIKE
    assert DeliveryEntry.objects.count() == 2
    delivery_log(actor=ground.teacher, item=item(ground, confirmed=True), now=NOW)
    assert DeliveryEntry.objects.count() == 3


def test_one_sending_that_comes_twice_is_stored_once_and_asks_nothing(ground: Cast) -> None:
    """The client id tells."""
    sent = item(ground)
    first, again = (delivery_log(actor=ground.teacher, item=sent, now=NOW) for _ in range(2))
    assert first == again


@pytest.mark.parametrize(
    ("start", "asks"), [("8:45", True), ("8:15", True), ("8:10", False), ("9:00", False), (None, False)]
)
def test_minutes_over_a_logged_session_are_asked_about(ground: Cast, start: str | None, asks: bool) -> None:
    """20 minutes beside a session from 8:30 to 9:00 of the same student: both ends are open."""
    sent = item(ground, 20, f"0{start}" if start else None)
    if not asks:
        assert delivery_log(actor=ground.teacher, item=sent, now=NOW).planned_minutes == 0
        return
    with pytest.raises(ApplicationError, match="8:30 to 9:00 AM on September 14, 2026 is logged already"):
        delivery_log(actor=ground.teacher, item=sent, now=NOW)


def test_other_minutes_of_the_day_are_not_asked_about(ground: Cast) -> None:
    """As many on another day, or others on this one."""
    delivery_log(actor=ground.teacher, item=item(ground, 20), now=NOW)
    delivery_log(actor=ground.teacher, item=item(ground, 25), now=NOW)
    assert DeliveryEntry.objects.count() == 3


def test_the_page_asks_with_a_box_to_tick_and_the_api_with_a_code(ground: Cast) -> None:
    """Nothing is lost of what was typed; ticked, it is saved."""
    browser = Client()
    browser.force_login(ground.coordinator)
    address = reverse("minutes_log", args=[ground.student.pk])
    sent = {"service_line": ground.line.pk, "date": DAY.isoformat(), "delivered_minutes": 20, "note": ""}
    body: dict[str, Any] = {
        "service_line": ground.line.pk,
        "date": DAY.isoformat(),
        "planned_minutes": 0,
        "delivered_minutes": 20,
    }
    assert browser.post(address, {**sent, "client_id": uuid.uuid4()}).status_code == 302
    asked = browser.post(address, {**sent, "client_id": uuid.uuid4()})
    assert asked.status_code == 422
    assert "Were they given once more?" in asked.content.decode()
    assert 'type="checkbox" name="confirmed"' in asked.content.decode()
    ticked = {**sent, "client_id": uuid.uuid4(), "confirmed": "on"}
    assert browser.post(address, ticked).status_code == 302
    api = Api(ground.coordinator)
    refused = api.post("log-entries/", expect=409, client_id=str(uuid.uuid4()), **body)
    assert refused["code"] == ALIKE
    api.post("log-entries/", client_id=str(uuid.uuid4()), confirmed=True, **body)
    assert DeliveryEntry.objects.count() == 4
