"""A closing on the same morning goes out by mail."""

import datetime as dt

from django.core import mail

from accounts.models import Person
from caseload.plans.models import Student
from jobs.models import Job
from jobs.runner import work_once
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import calendar_entry_save
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview
from schedule.imports.services.tables import import_undo
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


def look_at(ground: Ground, *closings: tuple[dt.date, str]) -> ImportBatch:
    """A preview of a school website's calendar with these days."""
    events = "".join(
        f"BEGIN:VEVENT\r\nUID:{day}@fells.example\r\nDTSTAMP:20260801T000000Z\r\n"
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}\r\nSUMMARY:{title}\r\nEND:VEVENT\r\n"
        for day, title in closings
    )
    content = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Fells//EN\r\n{events}END:VCALENDAR\r\n".encode()
    return calendar_preview(
        actor=ground.cast.teacher, filename="school.ics", content=content, first=date(-14), last=date(300)
    )


def test_a_closing_that_comes_by_import_is_sent_as_well(ground: Ground) -> None:
    """Once it is committed, and once: not for the preview, not for tomorrow's, not for the same file again."""
    ground.cast.teacher.email = "teacher@school.example"
    ground.cast.teacher.save()
    ground.clock.now = dt.datetime(2026, 9, 14, 10, 30, tzinfo=dt.UTC)
    batch = look_at(ground, (date(0), "School closed: storm"), (date(1), "School closed"))
    jobs = Job.objects.filter(kind="closing_mail")
    assert not jobs.exists()
    calendar_commit(actor=ground.cast.teacher, batch=batch, kinds=["closed", "closed"])
    assert jobs.count() == 1
    assert work_once()
    assert [message.to for message in mail.outbox] == [["teacher@school.example"]]
    assert "School closed: storm" in mail.outbox[0].body
    again = look_at(ground, (date(0), "School closed: storm"))
    calendar_commit(actor=ground.cast.teacher, batch=again, kinds=["closed"])
    assert jobs.count() == 1


def test_an_import_that_is_taken_back_at_once_sends_nothing(ground: Ground) -> None:
    """The worker looks again before it writes."""
    ground.cast.teacher.email = "teacher@school.example"
    ground.cast.teacher.save()
    ground.clock.now = dt.datetime(2026, 9, 14, 10, 30, tzinfo=dt.UTC)
    batch = look_at(ground, (date(0), "School closed: storm"))
    calendar_commit(actor=ground.cast.teacher, batch=batch, kinds=["closed"])
    import_undo(actor=ground.cast.teacher, batch=batch)
    assert work_once()
    assert mail.outbox == []
