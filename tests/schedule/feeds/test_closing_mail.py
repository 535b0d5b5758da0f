"""A closing on the same morning goes out by mail."""

import datetime as dt

from django.core import mail

from accounts.models import Person
from caseload.models import Student
from jobs.models import Job
from jobs.runner import work_once
from schedule.models import CalendarEntry
from schedule.services.records import calendar_entry_save
from tests.schedule.builders import date
from tests.schedule.feeds.conftest import Ground


def close(ground: Ground, day: dt.date, **values: object) -> CalendarEntry:
    """Close the south school, or what is said."""
    row = CalendarEntry(**{"building": ground.cast.south, "kind": "closed", "title": "Burst pipe", **values})
    return calendar_entry_save(
        actor=ground.cast.coordinator, row=row, values={"first_date": day, "last_date": None}
    )


def test_a_closing_today_is_sent_to_whom_it_concerns(ground: Ground) -> None:
    """On Monday the teacher is in both schools; the north's office isn't concerned by the south's closing."""
    for person in Person.objects.all():
        person.email = f"{person.username}@school.example"
        person.save()
    ground.clock.now = dt.datetime(2026, 9, 14, 10, 30, tzinfo=dt.UTC)
    close(ground, date(0))
    assert mail.outbox == []
    assert work_once()
    assert [message.to for message in mail.outbox] == [["teacher@school.example"]]
    assert mail.outbox[0].subject == "Today: Closed, South Hollow School"
    assert "Burst pipe" in mail.outbox[0].body
    close(ground, date(0), building=None)
    assert work_once()
    found = sorted(message.to[0] for message in mail.outbox[1:])
    assert found == ["office@school.example", "teacher@school.example"]
    for student in Student.objects.all():
        assert not [one for one in mail.outbox if student.last_name in one.body or student.code in one.body]


def test_other_days_are_not_sent(ground: Ground) -> None:
    """Tomorrow's closing is in the calendars by then; another bell schedule is no closing."""
    ground.clock.now = dt.datetime(2026, 9, 14, 10, 30, tzinfo=dt.UTC)
    close(ground, date(1))
    close(ground, date(0), kind="open")
    assert not Job.objects.filter(kind="closing_mail").exists()


def test_today_is_where_the_district_is(ground: Ground) -> None:
    """Half past three in the morning UTC on Tuesday is still Monday in New York."""
    ground.clock.now = dt.datetime(2026, 9, 15, 3, 30, tzinfo=dt.UTC)
    close(ground, date(0))
    assert Job.objects.filter(kind="closing_mail").count() == 1
