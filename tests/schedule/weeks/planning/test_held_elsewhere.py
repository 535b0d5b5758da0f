"""A service held in another building's space: the students' bells and way, its hours, closings of both buildings.

The times are worked out by hand from the bells of `tests.schedule.builders`: periods of 45 minutes, the first from
8:30. Leaving with a bell or coming back with one is common practice, no source.
"""

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from caseload.plans.models import Enrollment, ServiceLine
from schedule.calendar.models import BellSchedule, SpaceFreeTime
from schedule.feeds.build import FeedEvent
from schedule.feeds.models import Feed
from schedule.feeds.selectors.events import feed_events
from schedule.feeds.selectors.rows import session_rows
from schedule.weeks.day_truth import Why
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.day_shapes import as_held, part_of, shapes_of
from schedule.weeks.versions.content import content_from_json, content_read, content_to_json
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast, make_person
from tests.schedule.builders import (
    MONDAY,
    at,
    date,
    make_bells,
    make_entry,
    make_ground,
    make_line,
    make_week,
    minute,
    minutes_on,
)
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish
from travel.places.models import Building, BuildingStaff, Space

MORNING = (("Block", "9:00", "12:00", "instruction", ""),)


@pytest.fixture
def pool(cast: Cast) -> Space:
    """South's pool. South has school from 9:00 to 12:00."""
    make_ground(cast)
    return make_pool(cast)


def make_pool(cast: Cast) -> Space:
    """The same on ground that is there."""
    BellSchedule.objects.filter(building=cast.south).delete()
    make_bells(cast.south, periods=MORNING)
    return Space.objects.create(building=cast.south, name="Pool", kind="pool")


def swims(cast: Cast, pool: Space, way: int = 5, code: str = "W1") -> ServiceLine:
    """A student of North's with 30 minutes a week in the pool."""
    return make_line(cast, code, setting="one_to_one", largest_group=1, held_in=pool, way_minutes=way)


def key(line: ServiceLine) -> str:
    return f"line-{line.pk}"


def clocks(*texts: str) -> set[int]:
    return {minute(text) for text in texts}


def on(cast: Cast, line: ServiceLine, offset: int) -> set[int]:
    return minutes_on(load_week(cast.teacher, MONDAY), key(line), date(offset))


def held(cast: Cast, line: ServiceLine, clock: str = "10:15") -> PlannedSession:
    """Its session of the Monday, in force, after one at North."""
    publish(make_week(cast, [(key(cast.line), date(0), "8:30"), (key(line), date(0), clock)]))
    return PlannedSession.objects.get(building=cast.south)


# ---- when it can be held -------------------------------------------------------------------------------------


def test_students_leave_and_come_back_with_their_own_bells(cast: Cast, pool: Space) -> None:
    """Of 45 minutes 40 are taken; what begins before 9:00 or ends after 12:00 is outside South's day."""
    line = swims(cast, pool)
    assert on(cast, line, 0) == clocks("9:25", "9:30", "10:15", "10:20")
    starts = load_week(cast.teacher, MONDAY).problem.unit(key(line)).starts
    assert {(one.place, one.space) for one in starts} == {(cast.south.code, "Pool")}


def test_without_minutes_on_the_way_it_is_the_bells_alone(cast: Cast, pool: Space) -> None:
    """30 of 45 minutes from the bell or up to it."""
    assert on(cast, swims(cast, pool, way=0), 0) == clocks("9:20", "9:35", "10:10", "10:25")


def test_the_space_is_free_by_its_own_buildings_days(cast: Cast, pool: Space) -> None:
    """The way lies outside the free time; a moment that misses only that is told."""
    SpaceFreeTime.objects.create(space=pool, days="Tue", start=at("9:25"), end=at("9:55"))
    line = swims(cast, pool)
    assert (on(cast, line, 0), on(cast, line, 1)) == (set(), clocks("9:25"))
    barred = load_week(cast.teacher, MONDAY).problem.unit(key(line)).barred  # type: ignore[union-attr]  # a service
    assert any("Pool is free only 9:25 to 9:55" in one.text for one in barred)


@pytest.mark.parametrize("closed", ["north", "south"])
def test_either_building_closed_is_no_day_for_it(cast: Cast, pool: Space, closed: str) -> None:
    """The students' own or the one that they go to."""
    line = swims(cast, pool)
    make_entry(cast, date(0), "no_students", getattr(cast, closed))
    assert on(cast, line, 0) == set()
    assert on(cast, line, 1) == clocks("9:25", "9:30", "10:15", "10:20")


def test_a_building_that_never_rings_is_open_when_its_space_is_free(cast: Cast, pool: Space) -> None:
    """A gym across the street has no bells."""
    BellSchedule.objects.filter(building=cast.south).delete()
    SpaceFreeTime.objects.create(space=pool, start=at("8:00"), end=at("9:10"))
    assert on(cast, swims(cast, pool), 0) == clocks("8:35", "8:40")


def test_nobody_swims_alone_at_the_school_they_moved_to(cast: Cast, pool: Space) -> None:
    """Once the student is at South, the pool is a space of the own school, without a way."""
    line = swims(cast, pool)
    Enrollment.objects.update_or_create(
        student=line.plan.student, defaults={"building": cast.south, "grade": "3", "is_program": False}
    )
    assert {one for one in on(cast, line, 0) if one < minute("9:30")} == clocks("9:00")


def test_two_of_one_school_go_together_only_to_the_same_place(cast: Cast, pool: Space) -> None:
    """A group is made of those who are held in one space."""
    here = make_line(cast, "G1")
    lines = [make_line(cast, code, held_in=pool, way_minutes=5) for code in ("G2", "G3")]
    groups = load_week(cast.teacher, MONDAY).problem.groups
    assert [set(one.members) for one in groups if key(lines[0]) in one.members] == [{key(one) for one in lines}]
    assert not [one for one in groups if key(here) in one.members]


# ---- what is planned -----------------------------------------------------------------------------------------


def test_the_teacher_drives_there_and_the_session_says_whose_students(cast: Cast, pool: Space) -> None:
    """Kept with the session, also through undo and a new version."""
    session = held(cast, swims(cast, pool))
    assert (session.building, session.space, session.students_from) == (cast.south, pool, cast.north)
    drive = DayItem.objects.get(week=session.week, kind="drive", building=cast.south)
    assert (drive.origin, drive.miles > 0) == (cast.north, True)
    content = content_read(session.week)
    assert content_from_json(content_to_json(content)) == content
    assert content.session(str(session.uid)).students_from == cast.north.pk  # type: ignore[union-attr]  # it is there


@pytest.mark.parametrize("closed", ["north", "south"])
def test_a_closing_of_either_building_drops_it(cast: Cast, pool: Space, closed: str) -> None:
    """And nobody drives to the pool for it."""
    session = held(cast, swims(cast, pool))
    building = getattr(cast, closed)
    make_entry(cast, date(0), "no_students", building)
    off = as_held([cast.teacher], [session])[session.uid].off
    assert off is not None
    assert (off.why, off.building) == (Why.NO_STUDENTS, building.pk)
    rows: list[DayItem | PlannedSession] = [*PlannedSession.objects.filter(week=session.week)]
    rows += DayItem.objects.filter(week=session.week)
    shape = shapes_of(cast.teacher, {date(0): [part_of(row) for row in rows]})[date(0)]
    assert cast.south.pk not in shape.stops


def test_an_early_dismissal_of_the_students_school_takes_what_lies_after_it(cast: Cast, pool: Space) -> None:
    """North sends them home at 10:30 and they go back 5 minutes: of 10:15 to 10:45 10 minutes are left."""
    session = held(cast, swims(cast, pool))
    entry = make_entry(cast, date(0), "early_dismissal", cast.north)
    entry.closes_at = at("10:30")
    entry.save()
    short = as_held([cast.teacher], [session])[session.uid].short
    assert short is not None
    assert (short.minutes, short.off.building) == (10, cast.north.pk)


@pytest.mark.parametrize(("opens", "left"), [("10:00", None), ("10:10", None), ("10:20", 20), ("10:40", 0)])
def test_after_a_late_opening_the_way_there_comes_first(
    cast: Cast, pool: Space, opens: str, left: int | None
) -> None:
    """Planned at 10:15 to 10:45, 5 minutes away: who is at North from 10:20 on is in the pool from 10:25 on."""
    session = held(cast, swims(cast, pool))
    entry = make_entry(cast, date(0), "delayed_opening", cast.north)
    entry.opens_at = at(opens)
    entry.save()
    found = as_held([cast.teacher], [session])[session.uid]
    if left == 0:
        assert found.off is not None
        assert (found.off.why, found.off.building) == (Why.DELAYED, cast.north.pk)
    else:
        assert (found.short.minutes if found.short is not None else None) == left


def test_the_way_is_nobodys_where_the_other_building_opens_late(cast: Cast, pool: Space) -> None:
    """South opens at 10:20: the students stand at the door, and swim from then on."""
    session = held(cast, swims(cast, pool))
    entry = make_entry(cast, date(0), "delayed_opening", cast.south)
    entry.opens_at = at("10:20")
    entry.save()
    short = as_held([cast.teacher], [session])[session.uid].short
    assert short is not None
    assert (short.minutes, short.off.building) == (25, cast.south.pk)


def test_who_was_once_at_the_other_building_hasnt_left_the_session(cast: Cast, pool: Space) -> None:
    """Whether a student has left is asked of the school that they come from."""
    line = swims(cast, pool)
    session = held(cast, line)
    student = line.plan.student
    student.enrollments.all().delete()
    early = {"building": cast.south, "first_day": dt.date(2026, 9, 1), "last_day": dt.date(2026, 9, 7)}
    Enrollment.objects.create(student=student, grade="3", **early)
    later = Enrollment.objects.create(
        student=student, grade="3", building=cast.north, first_day=dt.date(2026, 9, 8)
    )
    assert as_held([cast.teacher], [session])[session.uid].off is None
    later.last_day = dt.date(2026, 9, 10)
    later.save()
    off = as_held([cast.teacher], [session])[session.uid].off
    assert off is not None
    assert off.why is Why.STUDENTS_LEFT


def test_another_teacher_has_the_student_neither_then_nor_on_the_way(cast: Cast) -> None:
    """Gone from 9:20 to 10:00: planning leaves these out, and publishing refuses one that ends at 9:22."""
    mates = make_two_teachers(cast)
    pool = make_pool(cast)
    unit = key(mates)
    before = minutes_on(load_week(cast.mate, MONDAY), unit, date(0))
    ServiceLine.objects.filter(pk=cast.line.pk).update(held_in=pool, way_minutes=5, setting="one_to_one")
    publish(make_week(cast, [(key(cast.line), date(0), "9:25"), (key(cast.line), date(2), "9:25")]))
    after = minutes_on(load_week(cast.mate, MONDAY), unit, date(0))
    assert before - after == {one for one in before if one < minute("10:00") and minute("9:20") < one + 30}


# ---- who sees it -----------------------------------------------------------------------------------------------


def office_of(cast: Cast, name: str, building: Building) -> Person:
    """Somebody in a school's office."""
    person = make_person(cast.district, name, Person.Role.OFFICE)
    BuildingStaff.objects.create(person=person, building=building)
    return person


def test_both_offices_see_it_and_no_third(cast: Cast, pool: Space) -> None:
    """The one whose pool it is, and the one whose students are gone."""
    session = held(cast, swims(cast, pool))
    theirs = office_of(cast, "poolside", cast.south)
    for person in (cast.office, theirs):
        assert session in PlannedSession.objects.visible_to(person)
        assert session.week in WeekPlan.objects.visible_to(person)
    at_north = PlannedSession.objects.get(week=session.week, building=cast.north)
    assert at_north not in PlannedSession.objects.visible_to(theirs)
    nobody = make_person(cast.district, "nowhere", Person.Role.OFFICE)
    assert not PlannedSession.objects.visible_to(nobody).exists()


def test_both_buildings_feeds_hold_it(cast: Cast, pool: Space) -> None:
    """A school's feed shows what is held there and for its students elsewhere."""
    session = held(cast, swims(cast, pool))
    for building in (cast.north, cast.south):
        feed = Feed(district=cast.district, kind=Feed.Kind.BUILDING, building=building, owner=cast.teacher)
        assert session.pk in {row.pk for row in session_rows(feed, (date(0), date(6)))}


def test_every_page_says_whose_students_come(cast: Cast, pool: Space) -> None:
    """To whoever doesn't know them: the pages of the session, and the calendars of both schools."""
    session = held(cast, swims(cast, pool))
    day, uid = date(0).isoformat(), str(session.uid)
    client = signed_in(cast.teacher)
    pages = [reverse("day_of", args=[day]), reverse("class_hour", args=[day, uid])]
    pages += [f"{reverse('log')}?date={day}", reverse("week_version", args=[session.week_id])]
    for address in (*pages, reverse("week_print", args=[session.week_id])):
        text = client.get(address, follow=True).content.decode()
        assert "students of North" in text, address


def test_a_schools_calendar_says_where_or_whose(cast: Cast, pool: Space) -> None:
    """North's office reads that its students are at South, South's from where they come."""
    session = held(cast, swims(cast, pool))

    def event(**values: object) -> FeedEvent:
        feed = Feed(district=cast.district, owner=cast.teacher, **values)
        return next(one for one in feed_events(feed, (date(0), date(6))) if one.uid == str(session.uid))

    away = event(kind=Feed.Kind.BUILDING, building=cast.north)
    assert away.summary == f"Teacher Vey: Pool ({cast.south.name})"
    here = event(kind=Feed.Kind.BUILDING, building=cast.south)
    assert here.summary == f"Teacher Vey: Pool, students of {cast.north.name}"
    own = event(kind=Feed.Kind.TEACHER, teacher=cast.teacher)
    assert f"Students of {cast.north.name}." in own.description
