"""What stands in each kind of feed, and how it follows changes."""

import datetime as dt
import re

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.errors import ApplicationError
from accounts.models import Person, PersonRole, Substitution
from accounts.people.services import person_save
from accounts.roles.services import role_choose
from caseload.plans.models import Student
from caseload.plans.services import service_change, student_leave, student_move, student_save
from schedule.calendar.models import CalendarEntry, SchoolYear
from schedule.calendar.services.records import calendar_entry_save
from schedule.feeds.models import Feed, FeedItem
from schedule.feeds.selectors.titles import titles_with_names
from schedule.feeds.services.feeds import feed_new_address, feed_options_save, feed_stop
from schedule.feeds.services.versions import feed_body, feeds_touch
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from tests.schedule.builders import at, date, make_entry
from tests.schedule.feeds.conftest import SITE, Ground, events_of, summaries
from travel.places.models import Building
from travel.places.services import building_save


def test_a_teachers_own_days(ground: Ground) -> None:
    """Sessions with place and log address, drives between schools, lunch and preparation."""
    feed, _ = ground.feed()
    found = events_of(feed)
    session = ground.session(date(0), "9:20")
    event = found[str(session.uid)]
    assert event["DTSTART"].dt.strftime("%Y-%m-%d %H:%M %Z") == "2026-09-14 09:20 EDT"
    assert event["DTEND"].dt - event["DTSTART"].dt == dt.timedelta(minutes=30)
    assert "North Hollow School" in event["LOCATION"]
    assert str(event["URL"]).startswith(SITE)
    assert str(session.uid) in event["URL"]
    kinds = [str(one["CATEGORIES"].cats[0]) for one in found.values()]
    assert set(kinds) == {"Session", "Drive", "Lunch", "Preparation"}
    assert kinds.count("Session") == 3


def test_no_student_unless_asked_for(ground: Ground) -> None:
    """Neither name nor code nor initials in the bytes of a feed with its defaults."""
    feed, _ = ground.feed()
    written = feed_body(feed).decode()
    for student in Student.objects.all():
        assert student.last_name not in written
        assert student.code not in written.replace("\r\n ", "")


@pytest.mark.parametrize(("how", "shown"), [("codes", "S01"), ("initials", "O.T.")])
def test_how_students_appear(ground: Ground, how: str, shown: str) -> None:
    """By code or by initials where the subscriber chose so."""
    feed, _ = ground.feed(values={"label": "phone", "students": how})
    assert f"Adapted PE: {shown} (North Hollow School)" in summaries(feed)


def test_titles_say_no_setting_unless_asked(ground: Ground) -> None:
    """How a student is served is nobody's business who keeps a calendar."""
    feed, _ = ground.feed()
    setting = ground.session(date(0), "9:20").get_setting_display()
    assert setting == "One to one"
    assert setting not in feed_body(feed).decode()
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"says_setting": True})
    assert f"{setting} (North Hollow School)" in summaries(feed)


def test_the_office_sees_no_home_class(ground: Ground) -> None:
    """A space and a time: the class of a session for one student would say whose it is."""
    feed, _ = ground.feed(ground.cast.office, kind="building", building=ground.cast.north)
    PlannedSession.objects.update(school_class=ground.cast.room4)
    assert ground.cast.room4.name not in feed_body(feed).decode()


@pytest.mark.parametrize(
    ("title", "held"),
    [
        ("About Tarn", True),
        ("Ola's review", True),
        ("Ola\u2019s review", True),
        ("Tarnish", False),
        ("Team", False),
    ],
)
def test_written_titles_with_a_name_are_told(ground: Ground, title: str, held: bool) -> None:
    """A meeting's title shows as it was written; its owner is told where it holds a student's name."""
    feed, _ = ground.feed()
    item = DayItem.objects.filter(week=ground.week, kind="lunch").order_by("date").first()
    assert item is not None
    DayItem.objects.filter(pk=item.pk).update(kind="meeting", title=title)
    feed_body(feed)
    assert titles_with_names(feed) == ((title,) if held else ())
    feed_stop(actor=ground.cast.teacher, feed=feed)
    assert titles_with_names(feed) == ()


@pytest.mark.parametrize("name", ["2", "Period 2", "Advisory"])
def test_a_period_is_named_once(ground: Ground, name: str) -> None:
    """Whether the bells call it 2 or Period 2."""
    PlannedSession.objects.update(period=name)
    feed, _ = ground.feed()
    written = feed_body(feed).decode().replace("\r\n ", "")
    assert ("Advisory" if name == "Advisory" else "Period 2") in written
    assert "Period Period" not in written
    assert "Period Advisory" not in written


def test_full_names_need_a_confirmation(ground: Ground) -> None:
    """Refused with the warning, then shown; kept while other options change."""
    values = {"label": "phone", "students": "names"}
    with pytest.raises(ValidationError, match="Full names leave this program"):
        ground.feed(values=values)
    feed, _ = ground.feed(values=values, names_confirmed=True)
    assert any("Ola Tarn S01" in one for one in summaries(feed))
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"alarm_minutes": 10})
    assert any("Ola Tarn S01" in one for one in summaries(feed))


DAYS_ALONE = ("schedule_sessionattendee", "caseload_enrollment", "caseload_serviceline")
NOBODY_TAUGHT = ("caseload_deliveryversion", "caseload_deliveryentry", "caseload_missedreason")
"""Asked for one thing: of which sessions the log says that nobody was taught."""


def test_a_buildings_feed_reads_no_student(ground: Ground) -> None:
    """No table with a student's name, code or plan is asked, from the first query to the bytes.

    Attendees, enrollments and service lines are asked for ids and days alone: whether somebody still comes. Of what
    happened only those rows are read that stand about the building's sessions.
    """
    feed, _ = ground.feed(ground.cast.office, kind="building", building=ground.cast.north)
    with CaptureQueriesContext(connection) as queries:
        found = summaries(feed)
    assert found == ["Teacher Vey: Gym", "Teacher Vey: Gym"]
    tables = {name for query in queries for name in re.findall(r'"((?:caseload|schedule)_[a-z]+)"\.', query["sql"])}
    assert tables <= {
        "schedule_feed", "schedule_feeditem", "schedule_feedbody", "schedule_plannedsession", "schedule_weekplan",
        "schedule_calendarentry", "schedule_schoolyear", "caseload_schoolclass", "schedule_happening", *DAYS_ALONE,
        *NOBODY_TAUGHT,
    }  # fmt: skip
    assert "schedule_plannedsession" in tables
    asked = " ".join(query["sql"] for query in queries)
    columns = {one for table in DAYS_ALONE for one in re.findall(rf'"{table}"\."([a-z_]+)"', asked)}
    told = {one for table in NOBODY_TAUGHT for one in re.findall(rf'"{table}"\."([a-z_]+)"', asked)}
    assert told <= {"id", "entry_id", "reason_id", "session_uid", "delivered_minutes", "code", "number", "version"}
    assert columns <= {
        "id", "session_id", "student_id", "service_line_id", "building_id", "first_day", "last_day", "grade",
        "home_class_id", "is_program", "service_id", "provider_id", "start", "end",
    }  # fmt: skip
    with pytest.raises(ValidationError, match="never shows students"):
        feed_options_save(actor=ground.cast.office, feed=feed, values={"students": "codes"})


def test_drives_as_notes_or_events_never_both(ground: Ground) -> None:
    """The minutes of a drive count once."""
    feed, _ = ground.feed()
    drives = [one for one in events_of(feed).values() if one["CATEGORIES"].cats[0] == "Drive"]
    assert drives
    assert all(one["TRANSP"] == "OPAQUE" for one in drives)
    assert not any("Travel" in str(one.get("DESCRIPTION", "")) for one in events_of(feed).values())
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"drives": "note"})
    found = events_of(feed)
    assert not [one for one in found.values() if one["CATEGORIES"].cats[0] == "Drive"]
    south = found[str(ground.session(date(0), "13:15").uid)]
    assert "Travel before: leave North Hollow School at" in str(south["DESCRIPTION"])
    assert not any("Canceled" in str(one["SUMMARY"]) for one in found.values())


def test_a_class_sees_its_own_sessions(ground: Ground) -> None:
    """Those held in it, and those for which its own students are taken out; nobody else's students."""
    cast = ground.cast
    feed, _ = ground.feed(kind="class", school_class=cast.room4, values={"label": "Room 4", "students": "codes"})
    assert summaries(feed) == []
    cast.student.home_class = cast.room4
    cast.student.save()
    assert summaries(feed) == ["Adapted PE with Teacher Vey: S01"] * 2


def test_a_class_sees_the_sessions_of_who_is_in_it_on_their_day(ground: Ground) -> None:
    """The student joins Room 4 on Tuesday: Wednesday's session is the class's, Monday's stays nobody's."""
    cast = ground.cast
    feed, _ = ground.feed(kind="class", school_class=cast.room4, values={"label": "Room 4", "students": "codes"})
    assert summaries(feed) == []
    student_move(actor=cast.teacher, student=cast.student, from_day=date(1), values={"home_class": cast.room4})
    (event,) = events_of(feed).values()
    assert (event["DTSTART"].dt.date(), str(event["SUMMARY"])) == (date(2), "Adapted PE with Teacher Vey: S01")
    student_move(actor=cast.teacher, student=cast.student, from_day=date(3), values={"home_class": None})
    assert len(events_of(feed)) == 1


def test_a_substitutes_feed_ends_by_itself(ground: Ground) -> None:
    """Only the covered dates; empty on the day after, so that phones drop them; then no feed at all."""
    cast = ground.cast
    cover = Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=date(1), last_date=date(2)
    )
    feed, _ = ground.feed(cast.substitute, kind="substitute", substitution=cover)
    starts = {one["DTSTART"].dt.date() for one in events_of(feed).values()}
    assert starts == {date(1), date(2)}
    ground.clock.forward(days=2)
    assert events_of(feed) == {}
    ground.clock.forward(days=14)
    with pytest.raises(ApplicationError, match="has ended"):
        feed_body(feed)


def test_every_feed_says_who_comes(ground: Ground) -> None:
    """The school's and the class's in the title, the absent teacher's in its text; the day after as before."""
    cast = ground.cast
    Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=date(0), last_date=date(0)
    )
    own, _ = ground.feed()
    office, _ = ground.feed(cast.office, kind="building", building=cast.north)
    covered = str(ground.session(date(0), "9:20").uid)
    after = str(ground.session(date(2), "9:20").uid)
    assert "Substitute Vey stands in." in str(events_of(own)[covered]["DESCRIPTION"])
    assert "stands in" not in str(events_of(own)[after].get("DESCRIPTION", ""))
    titles = {uid: str(one["SUMMARY"]) for uid, one in events_of(office).items()}
    assert titles[covered].startswith("Substitute Vey for Teacher Vey: ")
    assert titles[after].startswith("Teacher Vey: ")


def test_a_move_keeps_the_uid_and_raises_the_number(ground: Ground) -> None:
    """SEQUENCE and LAST-MODIFIED rise for what moved, and for nothing else (RFC 5545 sections 3.8.7.3, 3.8.7.4)."""
    feed, _ = ground.feed()
    before = events_of(feed)
    session = ground.session(date(0), "9:20")
    ground.clock.forward(hours=1)
    ground.move(session, date(0), "8:30")
    after = events_of(feed)
    moved = after[str(session.uid)]
    assert moved["DTSTART"].dt.strftime("%H:%M") == "08:30"
    assert (before[str(session.uid)]["SEQUENCE"], moved["SEQUENCE"]) == (0, 1)
    assert moved["LAST-MODIFIED"].dt == moved["DTSTAMP"].dt == ground.clock.now
    still = str(ground.session(date(2), "9:20").uid)
    assert after[still].to_ical() == before[still].to_ical()


def test_canceled_after_publication(ground: Ground) -> None:
    """Said for 14 days, then gone; back again it keeps its uid and goes on counting."""
    feed, _ = ground.feed(values={"label": "phone", "days_back": 60})
    session = ground.session(date(2), "9:20")
    assert str(session.uid) in events_of(feed)
    ground.remove(session)
    gone = events_of(feed)[str(session.uid)]
    assert (gone["STATUS"], gone["TRANSP"], gone["SEQUENCE"]) == ("CANCELLED", "TRANSPARENT", 1)
    assert str(gone["SUMMARY"]).startswith("Canceled: ")
    ground.clock.forward(days=14)
    assert str(session.uid) in events_of(feed)
    ground.clock.forward(days=1)
    assert str(session.uid) not in events_of(feed)
    assert FeedItem.objects.get(feed=feed, uid=str(session.uid)).sequence == 1


def test_the_number_never_falls_when_an_event_returns(ground: Ground) -> None:
    """RFC 5545 section 3.8.7.4: SEQUENCE only rises; a drive that was gone for a while counts on."""
    feed, _ = ground.feed()
    (drive,) = [one for one in events_of(feed).values() if one["CATEGORIES"].cats[0] == "Drive"]
    uid = str(drive["UID"])
    numbers = [drive["SEQUENCE"]]
    for drives in ("note", "events") * 2:
        ground.clock.forward(minutes=5)
        feed_options_save(actor=ground.cast.teacher, feed=feed, values={"drives": drives})
        found = events_of(feed)
        assert (uid in found) == (drives == "events")
        numbers += [found[uid]["SEQUENCE"]] if uid in found else []
    assert numbers == [0, 1, 2]
    assert found[uid]["LAST-MODIFIED"].dt == ground.clock.now


def test_what_lies_between_is_named_by_what_it_is(ground: Ground) -> None:
    """RFC 7986 section 5.3: a drive keeps its uid when another comes before it, and lunch when preparation goes."""
    feed, _ = ground.feed()
    before = {uid: one for uid, one in events_of(feed).items() if one["CATEGORIES"].cats[0] in ("Drive", "Lunch")}
    drive = DayItem.objects.get(week=ground.week, kind="drive")
    DayItem.objects.create(
        week=ground.week, date=drive.date, kind="drive", start=at("7:30"), end=at("7:45"),
        origin=drive.building, building=drive.origin, drive_minutes=15,
    )  # fmt: skip
    DayItem.objects.filter(week=ground.week, kind="preparation").delete()
    feeds_touch(Feed.objects.filter(pk=feed.pk))
    after = events_of(feed)
    assert {uid: after[uid].to_ical() for uid in before} == {uid: one.to_ical() for uid, one in before.items()}


def test_closings_show_before_any_week_is_published(ground: Ground) -> None:
    """Of the schools where the teacher's students are, to the end of the school year; not those elsewhere."""
    WeekPlan.objects.all().delete()
    cast = ground.cast
    far = Building.objects.create(district=cast.district, code="FAR", name="Far Hollow School")
    feed, _ = ground.feed()
    assert events_of(feed) == {}
    for building, title in ((cast.north, "Flood"), (far, "Fire"), (None, "Storm")):
        make_entry(cast, date(60), "closed", building, title)
    assert set(summaries(feed)) == {"Closed: North Hollow School (Flood)", "Closed: all schools (Storm)"}
    for year in SchoolYear.objects.all():
        year.last_day = date(59)
        year.save()
    assert summaries(feed) == []


def test_a_closure_cancels_what_can_not_be_held(ground: Ground) -> None:
    """An all-day transparent event, the sessions canceled, no drive to a closed school; and all of it back."""
    feed, _ = ground.feed()
    before = events_of(feed)
    entry = calendar_entry_save(
        actor=ground.cast.teacher,
        row=CalendarEntry(building=ground.cast.south, kind="closed", title="Burst pipe"),
        values={"first_date": date(0), "last_date": None},
    )
    found = events_of(feed)
    closure = next(one for one in found.values() if one["CATEGORIES"].cats[0] == "Closure")
    assert (closure["DTSTART"].dt, closure["DTEND"].dt, closure["TRANSP"]) == (date(0), date(1), "TRANSPARENT")
    assert str(closure["SUMMARY"]) == "Closed: South Hollow School (Burst pipe)"
    assert found[str(ground.session(date(0), "13:15").uid)]["STATUS"] == "CANCELLED"
    assert found[str(ground.session(date(0), "9:20").uid)]["STATUS"] == "CONFIRMED"
    assert not [one for one in found.values() if one["CATEGORIES"].cats[0] == "Drive"]
    entry.delete()
    after = events_of(feed)
    assert set(after) == set(before)
    assert after[str(ground.session(date(0), "13:15").uid)]["SEQUENCE"] == 2


def test_a_building_that_opens_after_all(ground: Ground) -> None:
    """The building's own entry comes before the district's (schedule.calendar.calendars)."""
    feed, _ = ground.feed()
    make_entry(ground.cast, date(0), "closed")
    make_entry(ground.cast, date(0), "open", ground.cast.north)
    found = events_of(feed)
    assert found[str(ground.session(date(0), "9:20").uid)]["STATUS"] == "CONFIRMED"
    assert found[str(ground.session(date(0), "13:15").uid)]["STATUS"] == "CANCELLED"


def test_only_what_shows_changes_the_bytes(ground: Ground) -> None:
    """A new name of a school does; a telephone number, the same again and the passing of time don't."""
    feed, _ = ground.feed()
    first = feed_body(feed)
    north = ground.cast.north
    north.office_phone = "555 0100"
    north.save()
    ground.clock.forward(hours=3)
    assert feed_body(feed) == first
    feed.refresh_from_db()
    assert feed.version == 1
    north.name = "North Hollow Academy"
    north.save()
    second = feed_body(feed)
    assert second != first
    assert b"North Hollow Academy" in second
    feed.refresh_from_db()
    assert feed.version == 2


def test_the_window(ground: Ground) -> None:
    """Past 30 days to the end of the published weeks, settable."""
    feed, _ = ground.feed()
    assert events_of(feed)
    ground.clock.forward(days=29)  # October 14: thirty days after the Monday
    days = {one["DTSTART"].dt.date() for one in events_of(feed).values()}
    assert days == {date(0), date(2)} | {date(n) for n in (1, 3, 4)}
    ground.clock.forward(days=1)
    assert date(0) not in {one["DTSTART"].dt.date() for one in events_of(feed).values()}
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"days_back": 60})
    assert date(0) in {one["DTSTART"].dt.date() for one in events_of(feed).values()}


def test_alarms_only_where_asked(ground: Ground) -> None:
    """None at first; then before sessions, not before lunch; before leaving only if that is asked for as well."""
    feed, _ = ground.feed()
    assert b"VALARM" not in feed_body(feed)

    def with_alarm() -> set[str]:
        return {str(one["CATEGORIES"].cats[0]) for one in events_of(feed).values() if one.walk("VALARM")}

    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"alarm_minutes": 15})
    assert with_alarm() == {"Session"}
    only_leaving = {"alarm_minutes": None, "leave_alarm_minutes": 5}
    feed_options_save(actor=ground.cast.teacher, feed=feed, values=only_leaving)
    assert with_alarm() == {"Drive"}


def test_the_alarm_for_leaving_comes_before_the_drive_of_a_note(ground: Ground) -> None:
    """Two alarms on the session (RFC 5545 section 3.6.6): ten minutes before it, five before one has to drive."""
    options = {"label": "phone", "drives": "note", "alarm_minutes": 10, "leave_alarm_minutes": 5}
    feed, _ = ground.feed(values=options)
    drive = DayItem.objects.get(week=ground.week, kind="drive")
    session = ground.session(date(0), "13:15")
    found = events_of(feed)
    leaves = dt.datetime.combine(drive.date, drive.start) - dt.datetime.combine(session.date, session.start)
    triggers = [alarm["TRIGGER"].dt for alarm in found[str(session.uid)].walk("VALARM")]
    assert triggers == [dt.timedelta(minutes=-10), leaves - dt.timedelta(minutes=5)]
    assert len(found[str(ground.session(date(0), "9:20").uid)].walk("VALARM")) == 1


def test_who_may_have_which_feed(ground: Ground) -> None:
    """By role; a building out of sight is none that can be chosen."""
    cast = ground.cast
    refused = [(cast.office, "teacher"), (cast.coordinator, "teacher"), (cast.substitute, "building"),
               (cast.office, "class"), (cast.teacher, "substitute")]  # fmt: skip
    for person, kind in refused:
        with pytest.raises(ApplicationError) as told:
            ground.feed(person, kind=kind, building=cast.north, school_class=cast.room4)
        assert told.value.status == 403
    with pytest.raises(ValidationError, match="Choose one from the list"):
        ground.feed(cast.office, kind="building", building=cast.south)
    with pytest.raises(ValidationError, match="Choose one from the list"):
        ground.feed(cast.stranger, kind="building", building=cast.north)


def test_only_the_owner_changes_a_feed(ground: Ground) -> None:
    """A coordinator may stop it; to others it isn't there."""
    cast = ground.cast
    feed, _ = ground.feed()
    for person, status in ((cast.coordinator, 403), (cast.mate, 404), (cast.stranger, 404)):
        with pytest.raises(ApplicationError) as told:
            feed_options_save(actor=person, feed=feed, values={"label": "mine"})
        assert told.value.status == status
        with pytest.raises(ApplicationError):
            feed_new_address(actor=person, feed=feed, site=SITE)
    feed_stop(actor=cast.coordinator, feed=feed)
    assert feed.stopped_at == ground.clock.now
    assert not feed.items.exists()
    with pytest.raises(ApplicationError, match="is stopped"):
        feed_options_save(actor=cast.teacher, feed=feed, values={"label": "again"})
    with pytest.raises(ApplicationError, match="has ended"):
        feed_body(Feed.objects.get(pk=feed.pk))


@pytest.mark.parametrize("kind", ["leaves", "moves", "handed over"])
def test_the_offices_feed_cancels_what_nobody_comes_to(ground: Ground, kind: str) -> None:
    """At once, without a word about whom: a student's last day, a move, another teacher's service."""
    cast = ground.cast
    feed, _ = ground.feed(cast.office, kind="building", building=cast.north)
    wednesday, monday = ground.session(date(2), "9:20"), ground.session(date(0), "9:20")
    assert "CANCELLED" not in feed_body(feed).decode()
    if kind == "leaves":
        student_leave(actor=cast.coordinator, student=cast.student, last_day=date(1))
    elif kind == "moves":
        student_move(
            actor=cast.coordinator, student=cast.student, from_day=date(2), values={"building": cast.south}
        )
    else:
        service_change(
            actor=cast.coordinator, row=cast.line, from_day=date(2), values={"provider": cast.mate}, seen=None
        )
    found = events_of(feed)
    assert found[str(wednesday.uid)]["STATUS"] == "CANCELLED"
    assert found[str(monday.uid)].get("STATUS") != "CANCELLED"
    assert not re.search("left|Tarn|S01", feed_body(feed).decode())


def test_what_ends_cancels_what_comes_after(ground: Ground) -> None:
    """The teacher's last day is Monday: Wednesday is canceled with its drives, Monday stays."""
    feed, _ = ground.feed()
    wednesday, monday = ground.session(date(2), "9:20"), ground.session(date(0), "9:20")
    person_save(actor=ground.cast.coordinator, row=ground.cast.teacher, values={"last_day": date(0)})
    found = events_of(feed)
    assert found[str(wednesday.uid)]["STATUS"] == "CANCELLED"
    assert "STATUS" not in found[str(monday.uid)] or found[str(monday.uid)]["STATUS"] != "CANCELLED"
    person_save(actor=ground.cast.coordinator, row=ground.cast.teacher, values={"last_day": None})
    student_save(actor=ground.cast.coordinator, row=ground.cast.student, values={"last_day": date(1)})
    assert events_of(feed)[str(wednesday.uid)]["STATUS"] == "CANCELLED"
    student_save(actor=ground.cast.coordinator, row=ground.cast.student, values={"last_day": None})
    building_save(actor=ground.cast.coordinator, row=ground.cast.north, values={"last_day": date(1)})
    assert events_of(feed)[str(wednesday.uid)]["STATUS"] == "CANCELLED"


def test_a_teachers_feed_goes_on_while_she_works_as_coordinator(ground: Ground) -> None:
    """Whatever she works as, it shows her days; it is closed once she doesn't teach anymore."""
    feed, _ = ground.feed()
    teacher = ground.cast.teacher
    shown = set(events_of(feed))
    PersonRole.objects.create(person=teacher, role=Person.Role.COORDINATOR)
    role_choose(actor=Person.objects.get(pk=teacher.pk), role=Person.Role.COORDINATOR)
    feeds_touch(Feed.objects.all())
    feed.refresh_from_db()
    assert set(events_of(Feed.objects.get(pk=feed.pk))) == shown
    row = PersonRole.objects.get(person=teacher, role=Person.Role.TEACHER)
    row.last_day = date(-1)
    row.save()
    with pytest.raises(ApplicationError, match="has ended"):
        events_of(Feed.objects.get(pk=feed.pk))
