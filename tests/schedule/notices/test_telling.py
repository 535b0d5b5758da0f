"""Changes of the next 24 hours are told once, to whom they concern; and the evening's message."""

import datetime as dt

import pytest
from django.core import mail

from accounts.models import AuditEntry, Substitution
from accounts.people.services import substitution_delete, substitution_save
from caseload.care.models import Contact
from caseload.plans.models import Student
from jobs.registry import ask_for_regular_work
from jobs.runner import work_once
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import calendar_entry_delete, calendar_entry_save
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview
from schedule.imports.services.tables import import_undo
from schedule.notices.models import Hearing, Notice, NoticeSettings, WatchedTeacher
from schedule.notices.services.settings import hearing_save
from schedule.notices.services.watching import teacher_touch
from schedule.weeks.models import PlannedSession
from tests.schedule.builders import date
from tests.schedule.feeds.conftest import Ground
from tests.schedule.imports.test_calendar_import import calendar, day


def minute(ground: Ground) -> list[tuple[str, str]]:
    """One minute of the worker; returns whom it wrote to and the first line, in the order of the addresses."""
    mail.outbox.clear()
    ground.clock.forward(minutes=1)
    ask_for_regular_work()
    while work_once():
        pass
    return sorted((one.to[0], str(one.body).splitlines()[0]) for one in mail.outbox)


@pytest.fixture
def known(addressed: Ground) -> Ground:
    """Sunday afternoon: Monday is published and known."""
    addressed.clock.now = dt.datetime(2026, 9, 13, 19, 0, tzinfo=dt.UTC)
    # Made under the ground's own clock, which is two days later.
    AuditEntry.objects.all().delete()
    assert minute(addressed) == []
    return addressed


def close(ground: Ground, day: dt.date, **values: object) -> CalendarEntry:
    """Close the south school, or what is said, by the coordinator."""
    row = CalendarEntry(**{"building": ground.cast.south, "kind": "closed", "title": "Burst pipe", **values})
    return calendar_entry_save(
        actor=ground.cast.coordinator, row=row, values={"first_date": day, "last_date": None}
    )


def test_a_closing_is_told_once_and_so_is_that_it_was_taken_back(known: Ground) -> None:
    """The teacher hears of it; the north's office isn't concerned by the south; the coordinator knows already."""
    entry = close(known, date(0))
    south = "1:15 session, South Hollow School: not held, South Hollow School is closed."
    assert minute(known) == [("teacher@school.example", south)]
    assert minute(known) == []
    calendar_entry_delete(actor=known.cast.coordinator, row=entry)
    assert minute(known) == [("teacher@school.example", "1:15 session, South Hollow School: held after all.")]
    for student in Student.objects.all():
        assert not Notice.objects.filter(body__contains=student.last_name).exists()
        assert not Notice.objects.filter(body__contains=student.code).exists()


def test_all_schools_closed_is_one_line_and_the_office_hears(known: Ground) -> None:
    """Each hears of their own part."""
    close(known, date(0), building=None)
    told = dict(minute(known))
    assert sorted(told) == ["office@school.example", "teacher@school.example"]
    assert told["office@school.example"].endswith("not held, North Hollow School is closed.")


def test_a_closing_that_comes_by_import_is_told_as_well(known: Ground) -> None:
    """Once it is saved, and once: not for the preview; taken back, that too."""
    teacher = known.cast.teacher
    content = calendar(day(f"{date(0):%Y%m%d}", "School closed: storm"))
    first, last = date(-14), date(300)
    batch = calendar_preview(actor=teacher, filename="school.ics", content=content, first=first, last=last)
    assert minute(known) == []
    calendar_commit(actor=teacher, batch=batch, kinds=["closed"])
    assert [one for one, _ in minute(known)] == ["coordinator@school.example", "office@school.example"]
    assert minute(known) == []
    import_undo(actor=teacher, batch=batch)
    assert dict(minute(known))["office@school.example"].endswith("held after all.")


def test_taken_back_before_anybody_heard_nothing_is_told(known: Ground) -> None:
    """A slip of a minute is nobody's business."""
    entry = close(known, date(0))
    calendar_entry_delete(actor=known.cast.coordinator, row=entry)
    assert minute(known) == []


def test_what_lies_further_ahead_is_not_told_at_once(known: Ground) -> None:
    """Wednesday's closing stands in the calendar; nobody is woken for it on a Sunday."""
    close(known, date(2), building=None)
    assert minute(known) == []


def test_a_moved_session_and_one_taken_out(known: Ground) -> None:
    """The teacher did it: the office and the coordinator hear, not the teacher."""
    known.move(known.session(date(0), "9:20"), date(0), "10:10")
    told = dict(minute(known))
    assert set(told) == {"office@school.example", "coordinator@school.example"}
    assert told["office@school.example"].endswith("moved, it was 9:20 to 9:50.")
    known.remove(known.session(date(0), "10:10"))
    told = dict(minute(known))
    assert told["office@school.example"].endswith("taken out.")


def test_who_stands_in_is_told_to_all_and_taken_back(known: Ground) -> None:
    """The substitute, too, as long as they stand in."""
    cast = known.cast
    row = substitution_save(
        actor=cast.coordinator,
        row=Substitution(),
        values={
            "substitute": cast.substitute, "teacher": cast.teacher, "first_date": date(0), "last_date": date(0),
        },
    )  # fmt: skip
    told = dict(minute(known))
    line = f"{cast.substitute} stands in for {cast.teacher}."
    assert told == dict.fromkeys(
        ["office@school.example", "substitute@school.example", "teacher@school.example"], line
    )
    substitution_delete(actor=cast.coordinator, row=row)
    told = dict(minute(known))
    gone = f"{cast.substitute} no longer stands in for {cast.teacher}."
    assert told == dict.fromkeys(["office@school.example", "teacher@school.example"], gone)


def test_the_teacher_of_the_class_hears_at_the_address_kept_with_it(known: Ground) -> None:
    """Unless the district doesn't write to them. An aide of the class isn't written to."""
    cast = known.cast
    PlannedSession.objects.filter(building=cast.south).update(school_class=cast.room4)
    teacher_touch(teacher_id=cast.teacher.pk)
    assert minute(known) == []
    Contact.objects.create(school_class=cast.room4, role="teacher", name="Mr. Osei", email="osei@school.example")
    Contact.objects.create(school_class=cast.room4, role="aide", name="Ms. Lint", email="lint@school.example")
    entry = close(known, date(0))
    assert [one for one, _ in minute(known)] == ["osei@school.example", "teacher@school.example"]
    NoticeSettings.objects.create(district=cast.district, tells_classes=False)
    calendar_entry_delete(actor=cast.coordinator, row=entry)
    assert [one for one, _ in minute(known)] == ["teacher@school.example"]


def test_what_one_wants_to_hear(known: Ground) -> None:
    """Not at once, elsewhere, or not by mail."""
    hearing_save(actor=known.cast.teacher, values={"at_once": False})
    entry = close(known, date(0))
    assert minute(known) == []
    hearing_save(actor=known.cast.teacher, values={"at_once": True, "mail": "own@home.example"})
    calendar_entry_delete(actor=known.cast.coordinator, row=entry)
    assert [one for one, _ in minute(known)] == ["own@home.example"]
    hearing_save(actor=known.cast.teacher, values={"by_mail": False})
    close(known, date(0))
    assert minute(known) == []
    assert Hearing.objects.count() == 1


def test_a_day_that_is_over_is_not_told(known: Ground) -> None:
    """At six in the evening nobody needs to hear of the morning."""
    known.clock.now = dt.datetime(2026, 9, 14, 22, 30, tzinfo=dt.UTC)
    Hearing.objects.create(person=known.cast.teacher, district=known.cast.district, in_the_evening=False)
    minute(known)
    close(known, date(0))
    assert minute(known) == []


def test_tomorrow_is_told_in_the_evening_where_it_is_not_the_usual_day(known: Ground) -> None:
    """Once, at the district's hour; an ordinary day has no message."""
    close(known, date(0))
    minute(known)
    known.clock.now = dt.datetime(2026, 9, 13, 22, 30, tzinfo=dt.UTC)
    told = dict(minute(known))
    assert told["teacher@school.example"].startswith("1:15 session, South Hollow School: not held")
    assert "office@school.example" not in told
    assert minute(known) == []
    known.clock.now = dt.datetime(2026, 9, 14, 22, 30, tzinfo=dt.UTC)
    assert minute(known) == []


def test_the_evening_is_the_districts_and_the_clock_changes(known: Ground) -> None:
    """At 5:59 PM in New York nothing is sent, at 6:00 PM it is; an hour later in UTC once daylight time ended."""
    known.clock.now = dt.datetime(2026, 9, 13, 21, 58, tzinfo=dt.UTC)
    close(known, date(0))
    minute(known)
    assert not Notice.objects.filter(key__startswith="evening:").exists()
    minute(known)
    assert Notice.objects.filter(key__startswith="evening:").exists()
    Notice.objects.all().delete()
    # Daylight time ended on November 1, 2026 (15 U.S.C. 260a: the first Sunday in November).
    known.clock.now = dt.datetime(2026, 11, 8, 22, 30, tzinfo=dt.UTC)
    minute(known)
    watched = WatchedTeacher.objects.get()
    assert watched.told_until is not None
    assert watched.told_until < dt.date(2026, 11, 9)
    known.clock.now = dt.datetime(2026, 11, 8, 23, 0, tzinfo=dt.UTC)
    minute(known)
    assert WatchedTeacher.objects.get().told_until == dt.date(2026, 11, 9)
