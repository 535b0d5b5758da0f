"""The API of the log and of ledgers: the same services as the pages."""

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from caseload.delivery.models import DeliveryEntry
from schedule.calendar.models import CalendarEntry
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import make_line
from tests.schedule.log_builders import bring_to_now, publish_session

pytestmark = pytest.mark.django_db


@pytest.fixture
def today() -> dt.date:
    """By the clock, as the API asks it."""
    return timezone.localdate()


@pytest.fixture
def now_cast(cast: Cast, today: dt.date) -> Cast:
    """The cast in a school year around today, in the clock's own zone."""
    bring_to_now(cast, today)
    return cast


def test_log_correct_decide_and_read_the_ledger(now_cast: Cast, today: dt.date) -> None:
    """The whole way of a session, by a program."""
    api = Api(now_cast.teacher)
    session = publish_session(today, [now_cast.line])
    (listed,) = api.get("sessions-to-log/", date=str(today))
    assert (listed["uid"], listed["attendees"][0]["entry"]) == (str(session.uid), None)
    body: dict[str, Any] = {
        "session": str(session.uid),
        "client_id": str(uuid.uuid4()),
        "exceptions": [{"service_line": now_cast.line.pk, "delivered_minutes": 20, "reason": "medical"}],
    }
    (entry,) = api.post("session-logs/", **body)
    assert api.post("session-logs/", **body)[0]["id"] == entry["id"]
    assert [(one["delivered_minutes"], one["reason"]) for one in entry["versions"]] == [(20, "medical")]
    path = f"log-entries/{entry['id']}/"
    told = {"effect": "owed", "decided_by": "Plan team", "decided_on": str(today), "expected_revision": 1}
    decided = api.post(f"{path}decide/", expect=200, **told)
    assert decided["decisions"][0]["effect"] == "owed"
    ledger = api.get(f"students/{now_cast.student.pk}/ledger/", as_of=str(today))
    assert ledger["direct"]["missed"] == {"medical": 10}
    assert ledger["direct"]["undecided"] == 0
    assert ledger["services"][0]["periods"][-1]["reasoning"][0].startswith("week of ")
    corrected = api.post(f"{path}correct/", expect=200, delivered_minutes=30, expected_revision=2)
    assert [one["number"] for one in corrected["versions"]] == [1, 2]
    refused = api.post(f"{path}correct/", expect=409, delivered_minutes=25, reason="other", expected_revision=2)
    assert refused["code"] == "changed_meanwhile"
    assert api.get("log-entries/", student=now_cast.student.pk)["count"] == 1


def test_a_session_that_is_logged_whole_says_who_gave_it(now_cast: Cast, today: dt.date) -> None:
    """Once for everyone; whoever was absent got nothing from anybody."""
    other = make_line(now_cast, "S05")
    body: dict[str, Any] = {
        "session": str(publish_session(today, [now_cast.line, other]).uid),
        "client_id": str(uuid.uuid4()),
        "given_by": "Ina Holt",
        "given_under": "T. Vey",
        "exceptions": [{"service_line": other.pk, "reason": "student_absent"}],
    }
    entries = Api(now_cast.teacher).post("session-logs/", **body)
    given = {one["service_line"]: one["versions"][0] for one in entries}
    assert (given[now_cast.line.pk]["given_by"], given[now_cast.line.pk]["given_under"]) == ("Ina Holt", "T. Vey")
    assert given[other.pk]["given_by"] == ""


def test_an_entry_of_its_own_and_a_whole_day(now_cast: Cast, today: dt.date) -> None:
    """A make-up, and every session of a day."""
    api = Api(now_cast.teacher)
    made = api.post(
        "log-entries/",
        client_id=str(uuid.uuid4()),
        service_line=now_cast.line.pk,
        date=str(today),
        planned_minutes=15,
        makes_up=True,
        makes_up_for=str(today - dt.timedelta(days=3)),
    )
    assert (made["makes_up"], made["versions"][0]["delivered_minutes"]) == (True, 15)
    publish_session(today - dt.timedelta(days=1), [now_cast.line])
    (waiting,) = api.get("unlogged-sessions/")
    sent = {"date": waiting["date"], "client_id": str(uuid.uuid4()), "teacher": now_cast.teacher.pk}
    assert api.post("day-marks/", expect=409, **sent)["code"] == "nothing_to_mark"
    CalendarEntry.objects.create(
        district=now_cast.district, first_date=sent["date"], last_date=sent["date"], kind="closed"
    )
    marked = api.post("day-marks/", **sent)
    assert [one["versions"][0]["reason"] for one in marked] == ["school_closed"]
    assert api.get("unlogged-sessions/") == []


def test_problems_come_by_field(now_cast: Cast, today: dt.date) -> None:
    """A misspelled field, a reason that isn't there, a service out of sight."""
    api = Api(now_cast.teacher)
    body: dict[str, Any] = {
        "client_id": str(uuid.uuid4()),
        "service_line": now_cast.line.pk,
        "date": str(today),
        "planned_minutes": 30,
    }
    assert set(api.post("log-entries/", expect=400, **body, minuets=3)["fields"]) == {"minuets"}
    assert set(api.post("log-entries/", expect=400, **body, reason="rain")["fields"]) == {"reason"}
    other = Api(now_cast.mate).post("log-entries/", expect=400, **body)
    assert set(other["fields"]) == {"service_line"}
    assert not DeliveryEntry.objects.exists()


def test_the_table_of_reasons_and_the_rules(now_cast: Cast) -> None:
    """Read by everyone who logs, changed by the coordinator."""
    teacher, coordinator = Api(now_cast.teacher), Api(now_cast.coordinator)
    assert len(teacher.get("missed-reasons/")) == 15
    coordinator.patch("missed-reasons/testing/", effect="not_owed")
    assert teacher.get("missed-reasons/testing/")["effect"] == "not_owed"
    coordinator.post("missed-reasons/", code="drill", words="Fire drill", effect="owed")
    coordinator.delete("missed-reasons/drill/")
    coordinator.patch("missed-reasons/drill/", expect=404, effect="owed")
    assert coordinator.patch("ledger-settings/", short_week="whole")["short_week"] == "whole"
    assert teacher.get("ledger-settings/")["short_week"] == "whole"
    teacher.patch("ledger-settings/", expect=403, short_week="whole")


def test_a_log_that_is_sent_later_says_when_it_was_noted(now_cast: Cast, today: dt.date) -> None:
    """Both times are kept: what counts when a month closes is when it was stored."""
    noted = timezone.now() - dt.timedelta(hours=2)
    body: dict[str, Any] = {
        "session": str(publish_session(today, [now_cast.line]).uid),
        "client_id": str(uuid.uuid4()),
        "noted_at": noted.isoformat(),
    }
    (entry,) = Api(now_cast.teacher).post("session-logs/", **body)
    (version,) = entry["versions"]
    assert dt.datetime.fromisoformat(version["noted_at"]) == noted
    assert dt.datetime.fromisoformat(version["logged_at"]) > noted + dt.timedelta(hours=1)
    client = Client()
    client.force_login(now_cast.teacher)
    assert "sent later" in client.get(reverse("log_entry", args=[entry["id"]])).content.decode()
    at_once = publish_session(today, [now_cast.line], "13:00", "13:30")
    told = {"client_id": str(uuid.uuid4()), "noted_at": timezone.now().isoformat()}
    (sent,) = Api(now_cast.teacher).post("session-logs/", 201, session=str(at_once.uid), **told)
    assert sent["versions"][0]["noted_at"] is None
    refused = Api(now_cast.teacher).post(
        "session-logs/", expect=400, **{**body, "noted_at": (timezone.now() + dt.timedelta(hours=1)).isoformat()}
    )
    assert "clock may be wrong" in refused["fields"]["at"][0]
