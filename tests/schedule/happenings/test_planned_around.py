"""A week is planned around what is known to happen: each start that is left is held whole, each that went isn't."""

import datetime as dt
from collections.abc import Mapping

import pytest

from caseload.plans.models import ServiceLine
from schedule.calendar.models import ClassMeeting
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.weeks.models import PlannedSession, SessionAttendee
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.day_shapes import as_held
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_ground, make_line, minute, minutes_on, starts_of
from tests.schedule.log_builders import publish_week
from travel.places.models import Space

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + dt.timedelta(days=1)
PART = {"start": at("9:00"), "end": at("10:00")}
SESSIONS = 90
"""Of 30 minutes, once a week: more starts than that are looked at in no case here."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """One small group of two, one student alone, and one who is pushed into a class."""
    make_ground(cast)
    ClassMeeting.objects.create(school_class=cast.room4, days="Tue,Wed", period="2", space=cast.gym)
    make_line(cast, "S1")
    make_line(cast, "P1", setting=ServiceLine.Setting.PUSH_IN, pushed_into=cast.room4)
    for code in ("C1", "C2"):
        make_line(cast, code, setting=ServiceLine.Setting.OWN_CLASS, home_class=cast.room4)
    return cast


def unit_of(week: WeekInput, code: str) -> str:
    """The planner's unit that a student's line belongs to."""
    return week.units.unit_of_line()[ServiceLine.objects.get(plan__student__code=code).pk]


def held_whole(cast: Cast, week: WeekInput, unit: str, starts: set[tuple[str, int]]) -> dict[tuple[str, int], bool]:
    """Each start published as a session of its own: whether the day would hold all of it."""
    info, found = week.info(unit), {}
    lines = ServiceLine.objects.filter(pk__in=info.lines).select_related("plan")
    rows: dict[tuple[str, int], PlannedSession] = {}
    for one in week.problem.unit(unit).starts:
        if (one.day, one.at) in starts and (one.day, one.at) not in rows:
            day = dt.date.fromisoformat(one.day)
            end = one.at + week.problem.unit(unit).minutes
            row = PlannedSession.objects.create(
                week=publish_week(cast.teacher, MONDAY),
                date=day,
                start=dt.time(*divmod(one.at, 60)),
                end=dt.time(*divmod(end, 60)),
                building=week.buildings[one.place],
                space_id=week.spaces.get((one.place, one.space or "")),
                school_class_id=info.school_class,
                setting=info.setting,
                planner_key=unit,
            )
            SessionAttendee.objects.bulk_create(
                SessionAttendee(session=row, service_line=line, student=line.plan.student) for line in lines
            )
            rows[one.day, one.at] = row
    held = as_held([cast.teacher], list(rows.values()))
    for key, row in rows.items():
        found[key] = held[row.uid].off is None and held[row.uid].short is None
    PlannedSession.objects.all().delete()
    return found


CASES: list[tuple[str, dict[str, object]]] = [
    ("S1", {"kind": "student_absent", "student": "S1"}),
    ("S1", {"kind": "aide_missing", **PART}),
    ("S1", {"kind": "space_taken", **PART}),
    ("S1", {"kind": "closed", "grades": "3", **PART}),
    ("P1", {"kind": "class_away"}),
    ("C1", {"kind": "class_away", "start": at("9:30"), "end": at("11:00")}),
    ("C1", {"kind": "space_taken", "start": at("12:00")}),
]


def said(cast: Cast, values: Mapping[str, object]) -> dict[str, object]:
    """The values with rows for what they name."""
    found = {"first_date": TUESDAY, **values}
    if "student" in values:
        found["student"] = ServiceLine.objects.get(plan__student__code=values["student"]).plan.student
    found |= {"space": cast.gym} if values["kind"] == "space_taken" else {}
    return found | ({"school_class": cast.room4} if values["kind"] == "class_away" else {})


@pytest.mark.parametrize(("code", "values"), CASES)
def test_starts_that_are_left_are_those_that_the_day_holds(
    ground: Cast, code: str, values: dict[str, object]
) -> None:
    """And taken back, all of them are there again."""
    before = load_week(ground.teacher, MONDAY)
    unit = unit_of(before, code)
    row = happening_say(actor=ground.teacher, values=said(ground, values))
    after = load_week(ground.teacher, MONDAY)
    left, were = starts_of(after, unit), starts_of(before, unit)
    assert left < were
    whole = held_whole(ground, before, unit, were)
    assert {start for start, is_whole in whole.items() if is_whole} == left
    assert {day for day, _ in were - left} == {TUESDAY.isoformat()}
    happening_take_back(actor=ground.teacher, row=row)
    assert starts_of(load_week(ground.teacher, MONDAY), unit) == were


def test_a_session_of_several_goes_on_without_one_of_them(ground: Cast) -> None:
    """The class keeps its starts when one of the two is absent, and loses the day when both are."""
    unit = unit_of(load_week(ground.teacher, MONDAY), "C1")
    for code in ("C1", "C2"):
        values = said(ground, {"kind": "student_absent", "student": code})
        assert minutes_on(load_week(ground.teacher, MONDAY), unit, TUESDAY)
        happening_say(actor=ground.teacher, values=values)
    assert not minutes_on(load_week(ground.teacher, MONDAY), unit, TUESDAY)


def test_what_goes_on_elsewhere_takes_no_start(ground: Cast) -> None:
    """The teacher has said that the sessions are held."""
    was = starts_of(load_week(ground.teacher, MONDAY), unit_of(load_week(ground.teacher, MONDAY), "S1"))
    for values in ({"kind": "aide_missing"}, {"kind": "space_taken"}):
        happening_say(actor=ground.teacher, values={**said(ground, values), "goes_on": True})
    week = load_week(ground.teacher, MONDAY)
    assert starts_of(week, unit_of(week, "S1")) == was


def test_another_space_serves_while_one_is_taken(ground: Cast) -> None:
    """The hall stays; what is left says its space."""
    Space.objects.create(building=ground.north, name="Hall", kind="multipurpose")
    happening_say(actor=ground.teacher, values=said(ground, {"kind": "space_taken"}))
    week = load_week(ground.teacher, MONDAY)
    starts = week.problem.unit(unit_of(week, "S1")).starts
    assert {one.space for one in starts if one.day == TUESDAY.isoformat()} == {"Hall"}
    assert {one.space for one in starts if one.day == MONDAY.isoformat()} == {"Hall", ground.gym.name}


def test_whoever_is_late_has_no_session_before(ground: Cast) -> None:
    """Stuck for 40 minutes from 8:10: the day has that time blocked, as for whoever is away."""
    happening_say(
        actor=ground.teacher,
        values={"kind": "late", "first_date": TUESDAY, "start": at("8:10"), "minutes": 40},
    )
    week = load_week(ground.teacher, MONDAY)
    blocks = {(one.start, one.end) for one in week.problem.day(TUESDAY.isoformat()).blocks}
    assert (minute("8:10"), minute("8:50")) in blocks


def test_what_has_no_place_says_that_something_happened(ground: Cast) -> None:
    """By codes and not by names; nobody is asked to lift it."""
    values = said(ground, {"kind": "student_absent", "student": "S1"})
    happening_say(actor=ground.teacher, values={**values, "first_date": MONDAY, "last_date": date_of(4)})
    week = load_week(ground.teacher, MONDAY)
    service = week.problem.unit(unit_of(week, "S1"))
    assert not service.starts
    told = {one.text for one in service.barred}  # type: ignore[union-attr]  # a service, not a group
    assert told == {f"{service.label} is absent that day"}
    assert "S1" in service.label
    assert {one.ask for one in service.barred} == {""}  # type: ignore[union-attr]  # as above


def date_of(offset: int) -> dt.date:
    """A date of the week."""
    return MONDAY + dt.timedelta(days=offset)
