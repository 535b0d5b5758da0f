"""The day sheet's selector: what stands on a day, for whom, and what a closing of this morning changes."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Person, Substitution
from caseload.delivery.told import Outcome
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import calendar_entry_save
from schedule.day.data import DaySheet
from schedule.day.selectors.sheet import NO_SESSION, NO_WEEK, NOT_COVERED, day_sheet
from schedule.happenings.services.saying import happening_say
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, SHORT_PERIODS, at, date, make_bells, make_entry, make_line
from tests.schedule.day_builders import Day, add_drive, make_day
from tests.schedule.log_builders import log_session, publish_session
from travel.drives.models import DriveLog, OwnDriveTime
from travel.places.models import Building

pytestmark = pytest.mark.django_db


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday."""
    return make_day(cast, monkeypatch)


def sheet_of(day: Day, viewer: Person | None = None, on: dt.date = MONDAY) -> DaySheet:
    """The teacher's sheet, as the teacher or somebody else sees it."""
    return day_sheet(viewer or day.cast.teacher, day.cast.teacher, on)


def close(day: Day, building: Building | None, kind: str = "closed") -> CalendarEntry:
    """What the coordinator enters on Monday morning."""
    row = CalendarEntry(building=building, kind=kind, title="Burst pipe")
    return calendar_entry_save(
        actor=day.cast.coordinator, row=row, values={"first_date": MONDAY, "last_date": None}
    )


def lines(sheet: DaySheet) -> list[tuple[str, str, str]]:
    """Kind, time and why it is off."""
    return [(line.kind, f"{line.start:%H:%M}", line.off) for line in sheet.lines]


def test_the_whole_day_in_order(day: Day) -> None:
    """Everything of the week in force, with students, drives and their sources, and what is logged."""
    day.clock("12:10")
    log_session(day.cast.teacher, day.sessions[0])
    sheet = sheet_of(day)
    assert [(kind, start) for kind, start, off in lines(sheet)] == [
        ("session", "08:30"), ("drive", "09:20"), ("session", "10:00"), ("lunch", "10:45"), ("drive", "11:15"),
        ("session", "12:00"), ("drive", "12:35"), ("session", "13:15"), ("preparation", "13:45"),
        ("meeting", "14:15"),
    ]  # fmt: skip
    assert not any(line.off for line in sheet.lines)
    first, drive, group = sheet.lines[:3]
    assert [(one.name, one.delivered) for one in first.people] == [("Ola Tarn S01", 45)]
    assert [line.log for line in sheet.lines if line.kind == "session"] == ["logged", *["waiting"] * 3]
    assert [one.code for one in group.people] == ["F1", "F2"]
    assert sheet.lines[7].session is not None
    assert sheet.lines[7].session.makes_up
    leg = drive.leg
    assert leg is not None
    assert (leg.origin_name, leg.destination_name) == ("North Hollow School", "South Hollow School")
    assert (leg.minutes, leg.source_words, leg.miles) == (20, "measured by you", Decimal("6.0"))
    # Three minutes to pack up, five to park and sign in (the buildings' own).
    assert (leg.leave, leg.park_by) == (at("9:23"), at("9:45"))
    assert (sheet.drive_minutes, sheet.miles, len(sheet.sessions)) == (65, Decimal("18.0"), 4)
    assert sheet.begin is not None
    assert (sheet.begin.building_name, sheet.begin.park_by) == ("North Hollow School", at("8:25"))


def test_the_chance_of_arriving_is_the_weeks(day: Day) -> None:
    """Own minutes are the middle: 32 minutes allowed (9:23 to 9:55) for a drive of 32 is every second one."""
    OwnDriveTime.objects.create(
        district=day.cast.district, teacher=day.cast.teacher, origin=day.cast.north, destination=day.cast.south,
        minutes=32,
    )  # fmt: skip
    leg = sheet_of(day).lines[1].leg
    assert leg is not None
    assert leg.arrival is not None
    assert (leg.arrival.due, leg.arrival.percent) == (at("9:55"), "50 %")


def test_a_closing_of_this_morning(day: Day) -> None:
    """The south is out: nobody drives there, and the way from north to west is driven straight."""
    before = {line.leg.key for line in sheet_of(day).lines if line.leg is not None}
    close(day, day.cast.south)
    sheet = sheet_of(day)
    (notice,) = sheet.notices
    assert (notice.kind, notice.place, notice.title, notice.closes) == (
        "closed", "South Hollow School", "Burst pipe", True,
    )  # fmt: skip
    assert notice.to_mark == 1
    closed = "South Hollow School is closed"
    off = [line for line in sheet.lines if line.off]
    assert [(line.kind, f"{line.start:%H:%M}", line.off) for line in off] == [
        ("drive", "09:20", closed), ("session", "10:00", closed), ("drive", "11:15", closed),
    ]  # fmt: skip
    lunch = next(line for line in sheet.lines if line.kind == "lunch")
    assert (lunch.off, lunch.warning) == ("", closed)
    straight = next(line for line in sheet.lines if line.leg is not None and line.leg.straight)
    leg = straight.leg
    assert leg is not None
    assert (leg.origin_id, leg.destination_id) == (day.cast.north.pk, day.west.pk)
    assert straight.end == at("11:45")
    assert leg.minutes is not None
    # Packing up, the drive, signing in: due when the planned drive would have ended.
    assert straight.end_minute - straight.start_minute == 3 + leg.minutes + 5
    assert leg.key == f"{day.cast.north.pk}-{day.west.pk}-{straight.start:%H%M}"
    assert leg.key not in before
    assert sheet.drive_minutes == leg.minutes + 25


def test_a_day_for_staff_only_keeps_the_drive_to_a_meeting(day: Day) -> None:
    """Nobody is taught in the north, but the team meets there: as mileage counts it."""
    close(day, day.cast.north, "no_students")
    off = [(line.kind, line.off) for line in sheet_of(day).lines if line.off]
    assert off == [("session", "North Hollow School has no students")] * 2


def test_all_schools_closed(day: Day) -> None:
    """Everything is off, and the next open day with a session is named."""
    publish_session(date(1), [day.cast.line])
    publish_session(date(2), [day.cast.line])
    make_entry(day.cast, date(1), "closed")
    close(day, None)
    sheet = sheet_of(day)
    assert sheet.sessions == ()
    assert all(line.off for line in sheet.lines if line.kind in {"session", "drive"})
    assert sheet.notices[0].place == "All schools"
    assert sheet.next_day == date(2)


def test_a_building_opens_on_a_day_that_closes_the_others(day: Day) -> None:
    """Its own entry comes before the district's, as in feeds and in planning."""
    close(day, None)
    close(day, day.cast.north, "open")
    held = [line.building_name for line in sheet_of(day).sessions]
    assert held == ["North Hollow School"] * 2


def test_a_delayed_opening_takes_out_what_lies_before_it(day: Day) -> None:
    """The school's delayed bells begin at 9:45: half past eight is before them, and nobody is there yet."""
    late = (("1", "9:45", "10:30", "instruction", ""), ("2", "13:00", "14:30", "instruction", ""))
    make_bells(day.cast.north, name="Late", kind="delayed_opening", periods=late)
    close(day, day.cast.north, "delayed_opening")
    sheet = sheet_of(day)
    assert sheet.notices[0].hours == ("North Hollow School: 9:45 to 2:30.",)
    assert [line.off for line in sheet.lines if line.kind == "session"] == [
        "North Hollow School opens later", "", "", ""
    ]  # fmt: skip


def test_an_early_dismissal_marks_what_lies_after_it(day: Day) -> None:
    """The short bells end at 10:10 (tests.schedule.builders.SHORT_PERIODS): ten minutes are left, no fewer."""
    make_bells(day.cast.south, name="Short", kind="early_dismissal", periods=SHORT_PERIODS)
    close(day, day.cast.south, "early_dismissal")
    warnings = [line.warning for line in sheet_of(day).sessions]
    left = "10 minutes left, 10:00 to 10:10: South Hollow School sends students home early"
    assert warnings == ["", left, "", ""]


def test_what_was_driven_is_not_off(day: Day) -> None:
    """She had arrived when the school closed."""
    DriveLog.objects.create(
        district=day.cast.district, teacher=day.cast.teacher, origin=day.cast.north, destination=day.cast.south,
        date=MONDAY, started_at=dt.datetime(2026, 9, 14, 13, 21, tzinfo=dt.UTC),
        arrived_at=dt.datetime(2026, 9, 14, 13, 43, 30, tzinfo=dt.UTC),
    )  # fmt: skip
    close(day, day.cast.south)
    line = sheet_of(day).lines[1]
    assert line.off == ""
    assert line.leg is not None
    driven = line.leg.driven
    assert driven is not None
    assert (driven.started, driven.arrived, driven.minutes) == (at("9:21"), at("9:43").replace(second=30), 22)
    assert line.leg.difference == 2


def test_a_drive_that_is_not_planned_stands_apart(day: Day) -> None:
    """By its names, below the day."""
    DriveLog.objects.create(
        district=day.cast.district, teacher=day.cast.teacher, origin=day.cast.south, destination=day.cast.north,
        date=MONDAY, odometer_before="10.0",
    )  # fmt: skip
    sheet = sheet_of(day)
    assert [(one.origin_name, one.destination_name) for one in sheet.other_drives] == [
        ("South Hollow School", "North Hollow School")
    ]
    assert not any(line.leg.driven for line in sheet.lines if line.leg is not None)


def test_a_session_logged_as_closed_is_not_driven_to(day: Day) -> None:
    """The log's word counts as it does for mileage."""
    lines_there = [one.service_line_id for one in day.sessions[2].attendees.all()]
    log_session(day.cast.teacher, day.sessions[2], {line: Outcome(reason="school_closed") for line in lines_there})
    off = [line for line in sheet_of(day).lines if line.off]
    assert [line.kind for line in off] == ["drive", "drive"]
    assert off[0].off == "the log says that nobody was taught at West Hollow School"


@pytest.mark.parametrize(
    ("on", "reason"),
    [(date(5), "Saturday: no school."), (date(1), "Nothing is planned on this day."), (date(7), NO_WEEK)],
)
def test_an_empty_day_says_why(day: Day, on: dt.date, reason: str) -> None:
    """A weekend, a day without anything, a week that nobody published."""
    sheet = sheet_of(day, on=on)
    assert (sheet.lines, sheet.reason) == ((), reason)
    assert (sheet.week_id is None) == (reason == NO_WEEK)


def test_days_beside_skip_the_weekend_unless_something_is_planned(day: Day) -> None:
    """Friday's next day is Monday; a Saturday that makes up for a storm is a day."""
    friday = date(4)
    assert sheet_of(day, on=friday).after == date(7)
    publish_session(date(5), [day.cast.line])
    assert sheet_of(day, on=friday).after == date(5)
    assert sheet_of(day, on=date(7)).before == date(5)


def test_who_sees_what(day: Day) -> None:
    """The coordinator all of it and no tap; the office its school's sessions and no student; others nothing."""
    cast = day.cast
    assert sheet_of(day).may_tap
    whole = sheet_of(day, cast.coordinator)
    assert (len(whole.lines), whole.may_tap) == (10, False)
    assert whole.lines[1].leg is not None
    assert whole.lines[1].leg.arrival is not None
    office = sheet_of(day, cast.office)
    assert [(line.kind, line.building_name) for line in office.lines] == [("session", "North Hollow School")] * 2
    assert all(line.people == () and line.log == "" for line in office.lines)
    assert office.begin is None
    assert sheet_of(day, cast.office, date(1)).reason == NO_SESSION
    close(day, cast.south)
    assert sheet_of(day, cast.office).notices == ()
    assert sheet_of(day, cast.mate).week_id is None
    assert sheet_of(day, cast.substitute).reason == NOT_COVERED


def test_a_substitute_sees_the_days_that_are_covered(day: Day) -> None:
    """Monday, with names and with the taps of who drives; not Tuesday."""
    cast = day.cast
    publish_session(date(1), [cast.line])
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=MONDAY, last_date=MONDAY
    )
    sheet = sheet_of(day, cast.substitute)
    assert (len(sheet.lines), sheet.may_tap) == (10, True)
    assert sheet.lines[0].people[0].name == "Ola Tarn S01"
    assert sheet.lines[0].log == "waiting"
    assert (sheet.next_day, sheet_of(day, cast.substitute, date(1)).reason) == (None, NOT_COVERED)


def test_a_teacher_who_is_covered_is_told_who_comes_and_not_to_leave_home(day: Day) -> None:
    """Whoever stands in leaves home; a teacher who is away for a part of the day does, too."""
    cast = day.cast
    assert sheet_of(day).begin is not None
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=MONDAY, last_date=MONDAY
    )
    sheet = sheet_of(day)
    assert (sheet.cover, sheet.begin) == (str(cast.substitute), None)
    assert sheet_of(day, cast.substitute).begin is not None
    assert (sheet_of(day, cast.coordinator).cover, sheet_of(day, cast.office).cover) == (str(cast.substitute), "")
    values = {"kind": "away", "first_date": MONDAY, "start": at("12:00"), "end": at("15:00")}
    happening_say(actor=cast.teacher, values=values)
    assert sheet_of(day).begin is not None


def test_goals_of_a_session_and_which_wait_for_data(day: Day) -> None:
    """On its own session only; for whoever may take data, with names for whoever may see them."""
    dates = {"start": date(-60), "end": date(200)}
    session = day.sessions[0]
    student = session.attendees.get().student
    waits, fresh = make_goal(student, **dates), make_goal(student, **dates)
    make_point(fresh, MONDAY, 2, day.cast.teacher)
    sheet = sheet_of(day)
    with_goals = [line for line in sheet.sessions if line.goals is not None]
    assert {each.student_id for line in with_goals for each in line.people} == {student.pk}
    found = next(line.goals for line in with_goals if line.session and line.session.uid == str(session.uid))
    assert found is not None
    assert (found.count, [(one.goal_id, one.name) for one in found.waiting]) == (2, [(waits.pk, student.full_name)])
    assert str(session.uid) in found.address
    office = sheet_of(day, day.cast.office)
    assert all(line.goals is None for line in office.lines)


def test_queries_do_not_grow(day: Day) -> None:
    """Four times the sessions, drives and logs: the same number of queries."""
    close(day, day.cast.south)
    with CaptureQueriesContext(
        connection,
    ) as few:
        sheet_of(day)
    for number in range(6):
        line = make_line(day.cast, f"Q{number}")
        publish_session(MONDAY, [line, day.cast.line], f"15:{10 * number:02d}", f"15:{10 * number + 9:02d}")
        add_drive(day.week, day.cast.north, day.west, f"16:{10 * number:02d}", f"16:{10 * number + 9:02d}", 9)
        DriveLog.objects.create(
            district=day.cast.district, teacher=day.cast.teacher, origin=day.cast.north, destination=day.west,
            date=MONDAY, started_at=dt.datetime(2026, 9, 14, 20, 10 * number, tzinfo=dt.UTC),
        )  # fmt: skip
    with CaptureQueriesContext(connection) as many:
        sheet = sheet_of(day)
    assert len(sheet.lines) > 20
    assert len(many) <= len(few)
    # Care asks two (supports, cautions: names say whom the viewer may see), routines and goals one each: are there
    # any. What the day is, is asked once, eight questions. It is 45 of our own count, with room for two.
    assert len(few) < 48
