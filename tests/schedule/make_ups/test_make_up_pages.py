"""The pages and the API of attention and make-ups: one tap books, one takes it back."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.test import Client
from django.urls import reverse

from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import delivery_correct
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from schedule.weeks.models import PlannedSession, PlanRun
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line, make_week
from tests.schedule.log_builders import log_session

SUNDAY = date(6)


@pytest.fixture
def line(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> ServiceLine:
    """A line whose first session was missed; the next week is in force, and today is the Sunday between."""
    make_ground(cast)
    cast.line.delete()
    mine = make_line(cast, "A1")
    for offset in (0, 7):
        week = make_week(cast, [(f"line-{mine.pk}", date(offset), "8:30")], monday=date(offset))
        week_publish(actor=cast.teacher, week=week, expected_revision=1)
    log_session(cast.teacher, PlannedSession.objects.get(date=date(0)), {mine.pk: Outcome(reason="assembly")})
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SUNDAY)
    return mine


@pytest.fixture
def teacher(client: Client, cast: Cast, line: ServiceLine) -> Client:
    """The teacher at the browser."""
    client.force_login(cast.teacher)
    return client


def test_attention_leads_to_a_slot_that_one_tap_books(teacher: Client, line: ServiceLine) -> None:
    """From the page to the week, and back again."""
    slots = reverse("make_up_slots", args=[line.pk])
    assert slots in teacher.get(reverse("attention")).content.decode()
    page = teacher.get(slots, {"all": "1"}).content.decode()
    assert "30 minutes are open" in page
    assert "Wednesday, September 23" in page
    sent = {"date": "2026-09-23", "start": "09:20", "minutes": "30"}
    booked = teacher.post(reverse("make_up_book", args=[line.pk]), sent, follow=True).content.decode()
    assert "It is in the week." in booked
    assert "No minutes are open." in booked
    session = PlannedSession.objects.get(makes_up=True, week__status="published")
    back = teacher.post(
        reverse("make_up_cancel", args=[session.week_id]), {"uid": str(session.uid)}, follow=True
    ).content.decode()
    assert "The booking is taken back." in back
    assert not PlannedSession.objects.filter(makes_up=True, week__status="published").exists()


def test_a_minute_is_not_booked_but_given_after_a_session_and_logged(
    teacher: Client, cast: Cast, line: ServiceLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """29 of 30 delivered: no slot is offered for the one that is left, and once it is logged nothing is open."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: dt.datetime(2026, 9, 20, 16, tzinfo=dt.UTC))
    entry = DeliveryEntry.objects.get(service_line=line)
    most = Outcome(29, reason="assembly")
    delivery_correct(actor=cast.teacher, entry=entry, outcome=most, expected_revision=entry.revision)
    page = teacher.get(reverse("make_up_slots", args=[line.pk])).content.decode()
    assert "1 minute is open" in page
    assert "1 minute can&#x27;t be a session alone" in page
    assert ">Book<" not in page
    assert "Give after a session" in teacher.get(reverse("make_ups")).content.decode()
    sent = {"date": "2026-09-23", "start": "09:20", "minutes": "1"}
    refused = teacher.post(reverse("make_up_book", args=[line.pk]), sent, follow=True).content.decode()
    assert "Stay that long after another session" in refused
    address = re.search(r'href="([^"]*minutes/log/[^"]*)"', page)
    assert address is not None
    form = teacher.get(html.unescape(address[1])).content.decode()
    assert re.search(r'name="delivered_minutes" value="1"', form)
    sent = {
        "service_line": str(line.pk), "date": "2026-09-20", "delivered_minutes": "1", "makes_up": "on", "note": "",
        "client_id": str(uuid.uuid4()),
    }  # fmt: skip
    teacher.post(reverse("minutes_log", args=[line.plan.student_id]), sent)
    assert "No minutes are open." in teacher.get(reverse("make_up_slots", args=[line.pk])).content.decode()


def test_a_slot_that_is_gone_is_refused_in_words(teacher: Client, line: ServiceLine) -> None:
    """And so is what no list offers."""
    address = reverse("make_up_book", args=[line.pk])
    taken = teacher.post(address, {"date": "2026-09-21", "start": "08:30", "minutes": "30"}, follow=True)
    assert "open anymore" in taken.content.decode()
    bad = teacher.post(address, {"date": "soon"}, follow=True)
    assert "Choose one of the slots" in bad.content.decode()


def test_planning_all_leads_to_the_run(teacher: Client, cast: Cast, line: ServiceLine) -> None:
    """In the background, over so many weeks."""
    response = teacher.post(reverse("make_ups_plan"), {"weeks": "2"})
    run = PlanRun.objects.get()
    assert response.headers["Location"] == reverse("plan_run", args=[run.pk])
    assert (run.first_date, run.last_date) == (date(7), date(20))
    assert run.job.payload["teacher"] == cast.teacher.pk


def test_the_api_books_the_same_way(teacher: Client, line: ServiceLine) -> None:
    """Needs, slots, booking, taking back, outlooks."""
    [need] = teacher.get(reverse("api:make_ups")).json()
    assert (need["line_id"], need["open_minutes"]) == (line.pk, 30)
    address = reverse("api:make_up_slots", args=[line.pk])
    slots = teacher.get(address, {"until": "2026-09-25"}).json()
    assert all(dt.date.fromisoformat(slot["date"]) <= date(11) for slot in slots)
    first = {name: slots[0][name] for name in ("date", "start", "minutes")}
    booked = teacher.post(address, first, content_type="application/json")
    assert booked.status_code == 201
    uid = str(PlannedSession.objects.get(week=booked.json()["week_id"], makes_up=True).uid)
    sent = {"week": booked.json()["week_id"], "uid": uid}
    assert teacher.post(reverse("api:make_up_cancel"), sent, content_type="application/json").status_code == 200
    kinds = [row["kind"] for row in teacher.get(reverse("api:attention")).json()]
    assert kinds[0] == "Behind now"
    assert {one["name"] for one in teacher.get(reverse("api:forecasts")).json()} == {"the end of the service"}


def test_reports_are_there_as_data(teacher: Client, cast: Cast, line: ServiceLine) -> None:
    """With the rules in force."""
    report = teacher.get(reverse("api:report_student", args=[line.plan.student_id]), {"last": "2026-09-20"}).json()
    assert report["kind"] == "student"
    assert "aren't a legal judgment" in report["rules"][-1]
    bad = teacher.get(reverse("api:report_building", args=[cast.north.pk]), {"last": "soon"})
    assert bad.status_code == 400
