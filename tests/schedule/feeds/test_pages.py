"""The page of feeds, and the same by the API."""

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from jobs.models import Job
from schedule.calendar.models import BusyCalendar
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import secret_hash
from tests.schedule.builders import date
from tests.schedule.feeds.conftest import Ground

ADDRESS = re.compile(r"http://testserver(/feeds/(mmfeed_[\w-]{43})\.ics)")


@pytest.fixture
def teacher(ground: Ground) -> Client:
    """The teacher's browser."""
    client = Client()
    client.force_login(ground.cast.teacher)
    return client


def add(client: Client, kind: str = "teacher", **values: object) -> Any:
    """Send the form of a new feed."""
    usual = {"label": "phone", "students": "nothing", "drives": "events", "days_back": 30}
    return client.post(reverse("feed_new", args=[kind]), {**usual, **values})


def test_the_address_is_shown_once(teacher: Client) -> None:
    """In the answer to the form: link, address and QR code; on no page after that, and kept by no cache."""
    answer = add(teacher)
    page = answer.content.decode()
    found = ADDRESS.search(page)
    assert found is not None
    assert f"webcal://testserver{found[1]}" in page
    assert "<svg" in page
    assert "no-store" in answer.headers["Cache-Control"]
    feed = Feed.objects.get()
    assert feed.token_hash == secret_hash(found[2])
    assert Client().get(found[1]).status_code == 200
    for name, args in (("feeds", []), ("feed", [feed.pk]), ("feed_options", [feed.pk]), ("feed_month", [feed.pk])):
        later = teacher.get(reverse(name, args=args))
        assert later.status_code == 200
        assert found[2] not in later.content.decode()


def test_a_new_address_ends_the_old_one_and_stop_ends_both(teacher: Client) -> None:
    """Two buttons; a link alone does nothing."""
    first = ADDRESS.search(add(teacher).content.decode())
    feed = Feed.objects.get()
    assert teacher.get(reverse("feed_address_new", args=[feed.pk])).status_code == 405
    assert teacher.get(reverse("feed_stop", args=[feed.pk])).status_code == 405
    second = ADDRESS.search(teacher.post(reverse("feed_address_new", args=[feed.pk])).content.decode())
    assert first is not None
    assert second is not None
    assert [b"BEGIN:VEVENT" in Client().get(one[1]).content for one in (first, second)] == [False, True]
    teacher.post(reverse("feed_stop", args=[feed.pk]))
    assert b"BEGIN:VEVENT" not in Client().get(second[1]).content
    assert "Stopped" in teacher.get(reverse("feeds")).content.decode()
    for name in ("feed_file", "feed_month", "feed_options"):
        assert teacher.get(reverse(name, args=[feed.pk])).status_code in {200, 409}


def test_full_names_ask_first(teacher: Client) -> None:
    """The form comes back with the warning; ticked, it is saved."""
    answer = add(teacher, students="names")
    assert answer.status_code == 422
    assert "Full names leave this program" in answer.content.decode()
    assert not Feed.objects.exists()
    assert add(teacher, students="names", names_confirmed="on").status_code == 200
    assert Feed.objects.get().students == "names"


def test_options_are_changed(teacher: Client) -> None:
    """Saved, and asked for again where something is wrong."""
    add(teacher)
    feed = Feed.objects.get()
    place = reverse("feed_options", args=[feed.pk])
    values = {"label": "tablet", "students": "codes", "drives": "note", "alarm_minutes": "10", "days_back": "400"}
    assert teacher.post(place, values).status_code == 422
    assert teacher.post(place, {**values, "days_back": "60"}).status_code == 302
    feed.refresh_from_db()
    assert (feed.label, feed.students, feed.drives, feed.alarm_minutes, feed.days_back) == (
        "tablet", "codes", "note", 10, 60,
    )  # fmt: skip


def test_a_class_is_chosen(ground: Ground, teacher: Client) -> None:
    """Kinds with a scope ask for it."""
    assert add(teacher, "class").status_code == 422
    assert add(teacher, "class", school_class=ground.cast.room4.pk).status_code == 200
    assert Feed.objects.get().school_class == ground.cast.room4


def test_the_file_and_the_month(ground: Ground, teacher: Client) -> None:
    """The file is a calendar without an address in it; the month lists what the feed shows."""
    add(teacher)
    feed = Feed.objects.get()
    answer = teacher.get(reverse("feed_file", args=[feed.pk]))
    assert answer.headers["Content-Disposition"] == 'attachment; filename="calendar.ics"'
    assert b"SOURCE" not in answer.content
    assert len(Calendar.from_ical(answer.content).walk("VEVENT")) > 3
    page = teacher.get(reverse("feed_month", args=[feed.pk]), {"month": "2026-09"}).content.decode()
    assert "September 2026" in page
    assert page.count("(North Hollow School)") == 2
    ground.remove(ground.session(date(2), "9:20"))
    again = teacher.get(reverse("feed_month", args=[feed.pk]), {"month": "2026-09"}).content.decode()
    assert again.count("(canceled)") == 1
    assert teacher.get(reverse("feed_month", args=[feed.pk]), {"month": "soon"}).status_code == 400


def test_the_same_by_the_api(ground: Ground, teacher: Client) -> None:
    """Add, read, change, new address, stop; the address only in two answers."""
    given = {"kind": "teacher", "label": "phone", "students": "codes"}
    made = teacher.post("/api/1/feeds/", given, content_type="application/json")
    assert made.status_code == 201
    assert made.headers["Cache-Control"] == "no-store"
    place = f"/api/1/feeds/{made.json()['feed']['id']}/"
    assert Client().get(made.json()["address"].removeprefix("http://testserver")).status_code == 200
    assert "address" not in teacher.get(place).json()
    names = teacher.patch(place, {"students": "names"}, content_type="application/json")
    assert names.status_code == 400
    assert "names_confirmed" in names.json()["fields"]
    changed = teacher.patch(place, {"drives": "note"}, content_type="application/json")
    assert changed.json()["drives"] == "note"
    unknown = teacher.patch(place, {"drive": "note"}, content_type="application/json")
    assert "drive" in unknown.json()["fields"]
    new = teacher.post(f"{place}address/").json()["address"]
    assert new != made.json()["address"]
    assert teacher.post(f"{place}stop/").json()["stopped_at"] is not None
    office = Client()
    office.force_login(ground.cast.office)
    refused = office.post(
        "/api/1/feeds/",
        {"kind": "building", "label": "desk", "building": ground.cast.north.pk, "students": "codes"},
        content_type="application/json",
    )
    assert refused.status_code == 400
    assert "students" in refused.json()["fields"]


def test_calendars_of_ones_own(ground: Ground, teacher: Client) -> None:
    """Added as a file or by address, read again, taken out; by the page and by the API."""
    file = SimpleUploadedFile("own.ics", b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nEND:VCALENDAR\r\n")
    assert teacher.post(reverse("busy_new"), {"title": "Choir", "address": ""}).status_code == 422
    assert teacher.post(reverse("busy_new"), {"title": "Choir", "file": file}).status_code == 302
    broken = SimpleUploadedFile("own.ics", b"<html>")
    refused = teacher.post(reverse("busy_new"), {"title": "Choir", "file": broken})
    assert refused.status_code == 422
    assert "not an iCalendar file" in refused.content.decode()
    given = {"title": "Band", "address": "webcal://calendar.example/a.ics"}
    assert teacher.post(reverse("busy_new"), given).status_code == 302
    band = BusyCalendar.objects.get(title="Band")
    assert band.address == "https://calendar.example/a.ics"
    assert Job.objects.filter(kind="read_busy_calendar").count() == 1
    page = teacher.get(reverse("feeds")).content.decode()
    assert "waiting to be read" in page
    assert teacher.post(reverse("busy_read", args=[band.pk])).status_code == 302
    assert teacher.post(reverse("busy_delete", args=[band.pk])).status_code == 302
    body = {"title": "Band", "content": "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"}
    made = teacher.post("/api/1/busy-calendars/", body, content_type="application/json")
    assert made.status_code == 201
    assert made.json()["read_at"] is not None
    assert teacher.delete(f"/api/1/busy-calendars/{made.json()['id']}/").status_code == 204
    assert [row.title for row in BusyCalendar.objects.all()] == ["Choir"]
