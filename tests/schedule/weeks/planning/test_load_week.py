"""A dated week from rows: each date on its own bells and cycle day, every rule outside the planner met."""

import datetime as dt
import json
from typing import Any

import pytest

from accounts.errors import ApplicationError
from caseload.plans.models import SchoolClass, ServiceLine, StudentHold
from caseload.plans.naming import unmarked
from schedule.calendar.models import (
    BellRule,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
)
from schedule.planner.jsonform import problem_to_json
from schedule.planner.problem import Barred, Service
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import load_week
from tests.conftest import Cast
from tests.schedule.builders import (
    MONDAY,
    SHORT_PERIODS,
    at,
    date,
    make_bells,
    make_cycle,
    make_entry,
    make_ground,
    make_line,
    make_week,
    minute,
    minutes_on,
)
from travel.places.models import Space

Setting = ServiceLine.Setting


def key(line: ServiceLine) -> str:
    return f"line-{line.pk}"


def week_of(cast: Cast, monday: dt.date = MONDAY) -> WeekInput:
    return load_week(cast.teacher, monday)


# ---- dates -----------------------------------------------------------------------------------------------


def test_a_closed_date_is_no_day_of_the_problem(cast: Cast) -> None:
    make_ground(cast)
    make_entry(cast, date(1), "closed")
    days = [day.id for day in week_of(cast).problem.days]
    assert days == [date(n).isoformat() for n in (0, 2, 3, 4)]


def test_one_building_closed_keeps_the_day_for_the_other(cast: Cast) -> None:
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    make_entry(cast, date(1), "no_students", cast.north)
    week = week_of(cast)
    assert date(1).isoformat() in [day.id for day in week.problem.days]
    assert minutes_on(week, key(cast.line), date(1)) == set()
    assert minutes_on(week, key(far), date(1))


def test_one_building_open_on_a_district_closure(cast: Cast) -> None:
    make_ground(cast)
    make_entry(cast, date(1), "closed")
    make_entry(cast, date(1), "open", cast.north)
    assert minutes_on(week_of(cast), key(cast.line), date(1))


def test_early_dismissal_rings_its_own_bells(cast: Cast) -> None:
    make_ground(cast)
    make_bells(cast.north, name="Early", kind="early_dismissal", periods=SHORT_PERIODS)
    make_entry(cast, date(2), "early_dismissal")
    week = week_of(cast)
    assert minutes_on(week, key(cast.line), date(2)) == {minute("8:30"), minute("9:05"), minute("9:40")}
    assert minute("13:15") in minutes_on(week, key(cast.line), date(3))


def test_a_shortened_day_without_bells_is_not_planned_and_says_why(cast: Cast) -> None:
    make_ground(cast)
    for n in range(5):
        make_entry(cast, date(n), "early_dismissal", cast.north)
    week = week_of(cast)
    info = week.info(key(cast.line))
    assert week.problem.unit(key(cast.line)).starts == ()
    assert any("early dismissal" in remark for remark in info.remarks)


def test_six_day_cycle_and_ab_weeks_side_by_side(cast: Cast) -> None:
    """After a closure the next unused day follows (read in two districts, see tests of the calendar)."""
    make_ground(cast)
    make_cycle(cast.north)
    DayRotation.objects.create(building=cast.south, kind="ab_weeks", anchor_date=MONDAY, anchor_label="A")
    make_entry(cast, date(1), "closed")
    other = make_line(cast, "F1", building=cast.south)
    week = week_of(cast)
    labels = {one.day: one.pattern_key for one in week.problem.unit(key(cast.line)).starts}
    assert labels == {
        date(0).isoformat(): "Day 1",
        date(2).isoformat(): "Day 2",
        date(3).isoformat(): "Day 3",
        date(4).isoformat(): "Day 4",
    }
    letters = {one.pattern_key for one in week.problem.unit(key(other)).starts}
    assert letters == {"A monday", "A wednesday", "A thursday", "A friday"}
    after = week_of(cast, MONDAY + dt.timedelta(days=7))
    labels = {one.day: one.pattern_key for one in after.problem.unit(key(cast.line)).starts}
    assert [labels[day] for day in sorted(labels)] == ["Day 5", "Day 6", "Day 1", "Day 2", "Day 3"]
    days = ("monday", "tuesday", "wednesday", "thursday", "friday")
    assert {one.pattern_key for one in after.problem.unit(key(other)).starts} == {f"B {day}" for day in days}


def test_a_bell_rule_of_a_cycle_day_follows_it(cast: Cast) -> None:
    make_ground(cast)
    make_cycle(cast.north, length=2)
    short = make_bells(cast.north, name="Assembly", kind="assembly", periods=SHORT_PERIODS)
    BellRule.objects.create(building=cast.north, day="Day 2", schedule=short)
    week = week_of(cast)
    assert max(minutes_on(week, key(cast.line), date(1))) == minute("9:40")
    assert max(minutes_on(week, key(cast.line), date(2))) > minute("12:00")


def test_bells_of_a_monday_of_b_weeks_and_of_the_third_tuesday_of_a_month(cast: Cast) -> None:
    """Each shortens its date alone: September 15, 2026, is the third Tuesday, the 18th not the last Friday."""
    make_ground(cast)
    DayRotation.objects.create(building=cast.north, kind="ab_weeks", anchor_date=MONDAY, anchor_label="B")
    short = make_bells(cast.north, name="Assembly", kind="assembly", periods=SHORT_PERIODS)
    usual = minutes_on(week_of(cast), key(cast.line), date(0))
    for day in ("B Mon", "A Wed", "third Tuesday", "last Fri"):
        BellRule.objects.create(building=cast.north, day=day, schedule=short)
    week = week_of(cast)
    shortened = [max(minutes_on(week, key(cast.line), date(day))) < max(usual) for day in range(5)]
    assert shortened == [True, True, False, False, False]


# ---- students, spaces, classes ---------------------------------------------------------------------------


def test_times_when_a_student_cannot_be_taken(cast: Cast) -> None:
    make_ground(cast)
    StudentHold.objects.create(student=cast.student, reason="pt", days="Mon", start=at("9:20"), end=at("10:05"))
    StudentHold.objects.create(student=cast.student, reason="core", days="Tue", period="3")
    StudentHold.objects.create(student=cast.student, reason="ot", period="6", first_day=date(3), last_day=date(3))
    week = week_of(cast)
    every = minutes_on(week, key(cast.line), date(4))
    assert every - minutes_on(week, key(cast.line), date(0)) == {minute("9:20"), minute("9:35")}
    assert every - minutes_on(week, key(cast.line), date(1)) == {minute("10:10"), minute("10:25")}
    assert every - minutes_on(week, key(cast.line), date(3)) == {minute("13:15"), minute("13:30")}
    barred = {(one.day, one.at): one for one in week.problem.services[0].barred}
    held = barred[date(0).isoformat(), minute("9:20")]
    assert held.ask == "the physical therapist"
    assert unmarked(held.text) == "S01 can't be taken 9:20 to 10:05 (physical therapy)"


def barred_of(week: WeekInput, unit: str) -> tuple[Barred, ...]:
    """What keeps a service of its own from starting."""
    found = week.problem.unit(unit)
    assert isinstance(found, Service)
    return found.barred


def test_half_day_kindergarten_is_a_classs_own_day(cast: Cast) -> None:
    """Mornings on Mondays, afternoons on Wednesdays, from the second week on; nobody is taken at home."""
    make_ground(cast)
    line = make_line(cast, "K1", grade="K", home_class=cast.room4)
    usual = minutes_on(week_of(cast), key(line), date(0))
    for days, start, end in (("Mon", "8:30", "11:00"), ("Wed", "12:25", "14:00")):
        ClassDayTime.objects.create(
            school_class=cast.room4, days=days, start=at(start), end=at(end), first_day=date(7)
        )
    assert minutes_on(week_of(cast), key(line), date(0)) == usual
    later = week_of(cast, date(7))
    assert minutes_on(later, key(line), date(7)) == {
        one for one in usual if minute("8:30") <= one and one + 30 <= minute("11:00")
    }
    assert minutes_on(later, key(line), date(9)) == {
        one for one in usual if minute("12:25") <= one and one + 30 <= minute("14:00")
    }
    assert minutes_on(later, key(line), date(8)) == set()
    assert minutes_on(later, key(cast.line), date(8)) == usual, "who is in another class"
    barred = {unmarked(one.text) for one in barred_of(later, key(line)) if one.day == date(7).isoformat()}
    assert barred == {"Room 4 is at school 8:30 to 11:00"}


def test_a_room_has_its_own_lunch_in_place_of_its_grades(cast: Cast) -> None:
    """Period 5, 12:25 to 13:10, has no half hour left beside it."""
    make_ground(cast)
    line = make_line(cast, "K1", home_class=cast.room4)
    usual = minutes_on(week_of(cast), key(line), date(0))
    ClassDayTime.objects.create(
        school_class=cast.room4, kind="lunch", days="Mon", start=at("12:30"), end=at("13:00")
    )
    week = week_of(cast)
    assert usual - minutes_on(week, key(line), date(0)) == {minute("12:25"), minute("12:40")}
    assert minutes_on(week, key(line), date(1)) == usual
    barred = {unmarked(one.text) for one in barred_of(week, key(line)) if one.day == date(0).isoformat()}
    assert "K1 has lunch 12:30 to 1:00" in barred


def test_a_student_who_comes_or_leaves_mid_week(cast: Cast) -> None:
    make_ground(cast)
    cast.student.first_day = date(1)
    cast.student.last_day = date(3)
    cast.student.save()
    days = {one.day for one in week_of(cast).problem.unit(key(cast.line)).starts}
    assert days == {date(n).isoformat() for n in (1, 2, 3)}


def test_the_service_line_in_force_on_the_date(cast: Cast) -> None:
    """A dated change inside the week, as in the published decision of 2011: one line ends, the next begins."""
    make_ground(cast)
    cast.line.end = date(1)
    cast.line.save()
    later = ServiceLine.objects.create(
        plan=cast.plan,
        provider=cast.teacher,
        statement="1 x 45 min/week",
        times=1,
        minutes=45,
        setting=Setting.ONE_TO_ONE,
        start=date(2),
        end=cast.plan.end,
    )
    week = week_of(cast)
    assert {one.day for one in week.problem.unit(key(cast.line)).starts} == {
        date(0).isoformat(),
        date(1).isoformat(),
    }
    assert {one.day for one in week.problem.unit(key(later)).starts} == {date(n).isoformat() for n in (2, 3, 4)}


def test_a_space_is_free_by_period_or_clock(cast: Cast) -> None:
    make_ground(cast)
    SpaceFreeTime.objects.create(space=cast.gym, days="Mon", period="2")
    SpaceFreeTime.objects.create(space=cast.gym, days="Tue", start=at("10:00"), end=at("11:00"))
    week = week_of(cast)
    assert minutes_on(week, key(cast.line), date(0)) == {minute("9:20"), minute("9:35")}
    assert minutes_on(week, key(cast.line), date(1)) == {minute("10:10"), minute("10:25")}
    assert minutes_on(week, key(cast.line), date(2)) == set()
    texts = {one.text for one in week.problem.services[0].barred if one.day == date(0).isoformat()}
    assert texts == {"Gym is free only in period 2"}


def test_another_teachers_published_week_takes_a_space(cast: Cast) -> None:
    make_ground(cast)
    TeacherRules.objects.create(
        district=cast.district, teacher=cast.mate, lunch_earliest=at("10:45"), lunch_latest_end=at("13:30")
    )
    ContractDay.objects.create(
        district=cast.district, teacher=cast.mate, weekday=0, start=at("8:00"), end=at("15:00")
    )
    theirs = make_line(cast, "M1", teacher=cast.mate)
    week = make_week(cast, [(key(theirs), date(0), "9:20")], teacher=cast.mate)
    every = minutes_on(week_of(cast), key(cast.line), date(0))
    assert minute("9:35") in every
    week.status = WeekPlan.Status.PUBLISHED
    week.version = 1
    week.save()
    assert every - minutes_on(week_of(cast), key(cast.line), date(0)) == {minute("9:20"), minute("9:35")}
    cast.gym.classes_that_fit = 2
    cast.gym.save()
    assert minutes_on(week_of(cast), key(cast.line), date(0)) == every


def test_only_allowed_spaces_and_none_elsewhere(cast: Cast) -> None:
    make_ground(cast)
    pool = Space.objects.create(building=cast.north, name="Pool", kind="pool")
    week = week_of(cast)
    assert {one.space for one in week.problem.unit(key(cast.line)).starts} == {"Gym"}
    cast.line.allowed_spaces.add(pool)
    assert {one.space for one in week_of(cast).problem.unit(key(cast.line)).starts} == {"Pool"}


def test_pushed_in_only_inside_the_class_period(cast: Cast) -> None:
    make_ground(cast)
    ClassMeeting.objects.create(school_class=cast.room4, days="Tue,Thu", period="4", space=cast.gym)
    line = make_line(cast, "P1", setting=Setting.PUSH_IN, pushed_into=cast.room4)
    week = week_of(cast)
    starts = {(one.day, one.at) for one in week.problem.unit(key(line)).starts}
    assert starts == {
        (date(1).isoformat(), minute("11:35")),
        (date(1).isoformat(), minute("11:50")),
        (date(3).isoformat(), minute("11:35")),
        (date(3).isoformat(), minute("11:50")),
    }
    # The class has the gym then, so nobody else does.
    assert minute("11:35") not in minutes_on(week, key(cast.line), date(1))


def test_a_class_without_its_period_says_what_is_missing(cast: Cast) -> None:
    make_ground(cast)
    line = make_line(cast, "P1", setting=Setting.PUSH_IN, pushed_into=cast.room4)
    info = week_of(cast).info(key(line))
    assert info.remarks == ("Room 4 has no physical education period of its own: enter when the class meets.",)


# ---- joining ---------------------------------------------------------------------------------------------


def test_small_groups_within_grades_and_limits(cast: Cast) -> None:
    make_ground(cast)
    first, second = make_line(cast, "G1", grade="2"), make_line(cast, "G2", grade="4")
    make_line(cast, "G3", grade="8")
    make_line(cast, "G4", grade="3", minutes=45, statement="1 x 45 min/week")
    make_line(cast, "G5", grade="3", building=cast.south)
    groups = week_of(cast).problem.groups
    assert [group.members for group in groups] == [(key(first), key(second))]
    assert unmarked(groups[0].label) == "G1 + G2"


def test_one_to_one_is_never_joined(cast: Cast) -> None:
    make_ground(cast)
    make_line(cast, "G1")
    week = week_of(cast)
    assert week.problem.groups == ()
    assert key(cast.line) in {service.id for service in week.problem.services}


def test_a_group_meets_only_when_everyone_can(cast: Cast) -> None:
    make_ground(cast)
    first, second = make_line(cast, "G1"), make_line(cast, "G2")
    StudentHold.objects.create(student=first.student, reason="speech", period="1")
    StudentHold.objects.create(student=second.student, reason="speech", period="2")
    [group] = week_of(cast).problem.groups
    assert {start.at for start in group.starts} & {minute("8:30"), minute("8:45"), minute("9:20")} == set()
    assert minute("10:10") in {start.at for start in group.starts}


def test_pushed_in_students_of_one_class_may_be_joined(cast: Cast) -> None:
    make_ground(cast)
    ClassMeeting.objects.create(school_class=cast.room4, days="Tue", period="4")
    lines = [
        make_line(cast, code, setting=Setting.PUSH_IN, pushed_into=cast.room4, largest_group=1)
        for code in ("P1", "P2")
    ]
    [group] = week_of(cast).problem.groups
    assert set(group.members) == {key(line) for line in lines}


def make_own_class(cast: Cast, ratio: str) -> SchoolClass:
    return SchoolClass.objects.create(
        building=cast.north, code="RM9", name="Room 9", kind="self_contained", ratio=ratio
    )


def test_a_self_contained_class_is_one_session(cast: Cast) -> None:
    """Special classes of 6:1:1 are in 8 NYCRR 200.6(h)(4): seven students make two sessions."""
    make_ground(cast)
    room = make_own_class(cast, "6:1:1")
    for n in range(6):
        make_line(cast, f"C{n}", setting=Setting.OWN_CLASS, home_class=room)
    services = [one for one in week_of(cast).problem.services if one.id.startswith("class-")]
    assert [len(one.students) for one in services] == [6]
    assert services[0].weight == 6
    make_line(cast, "C6", setting=Setting.OWN_CLASS, home_class=room)
    services = [one for one in week_of(cast).problem.services if one.id.startswith("class-")]
    assert sorted(len(one.students) for one in services) == [3, 4]


def test_a_class_waits_for_every_student_in_it(cast: Cast) -> None:
    make_ground(cast)
    room = make_own_class(cast, "8:1:1")
    lines = [make_line(cast, f"C{n}", setting=Setting.OWN_CLASS, home_class=room) for n in range(3)]
    StudentHold.objects.create(student=lines[1].student, reason="pt", period="2")
    [service] = [one for one in week_of(cast).problem.services if one.id.startswith("class-")]
    assert {minute("9:20"), minute("9:35")} & {start.at for start in service.starts} == set()


# ---- what is owed ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "sessions", "minutes"),
    [
        ({"times": 3, "minutes": 20, "unit": "week"}, 3, 20),
        # Daily: once on each of the week's five days.
        ({"times": 1, "minutes": 20, "unit": "day", "days_apart": 2}, 5, 20),
        ({"times": 1, "minutes": 45, "unit": "cycle", "cycle_days": 5}, 1, 45),
        # 90 minutes a month in sessions of 30 are three; September 2026 has 12 school days from the 14th on.
        ({"times": None, "minutes": 30, "minutes_total": 90, "unit": "month"}, 1, 30),
    ],
)
def test_sessions_owed_this_week(cast: Cast, values: dict[str, Any], sessions: int, minutes: int) -> None:
    make_ground(cast)
    line = make_line(cast, "Q1", **values)
    service = week_of(cast).problem.unit(key(line))
    assert (service.sessions, service.minutes) == (sessions, minutes)  # type: ignore[union-attr]  # a service
    assert service.days_apart == 1  # type: ignore[union-attr]  # a service


def test_sessions_of_other_published_weeks_count_against_the_period(cast: Cast) -> None:
    make_ground(cast)
    year = SchoolYear.objects.get()
    MarkingPeriod.objects.create(
        district=cast.district, school_year=year, name="1", first_day=MONDAY, last_day=date(11)
    )
    line = make_line(cast, "Q1", times=2, minutes=30, unit="marking_period", statement="2 x 30 min/marking period")
    assert week_of(cast).lines[line.pk].owed.sessions == 1
    week = make_week(cast, [(key(line), date(0), "9:20")])
    week.status, week.version = WeekPlan.Status.PUBLISHED, 1
    week.save()
    following = MONDAY + dt.timedelta(days=7)
    assert load_week(cast.teacher, following).lines[line.pk].owed.sessions == 1
    MarkingPeriod.objects.update(last_day=date(18))
    last = following + dt.timedelta(days=7)
    second = make_week(cast, [(key(line), following, "9:20")], monday=following)
    second.status, second.version = WeekPlan.Status.PUBLISHED, 1
    second.save()
    assert line.pk not in load_week(cast.teacher, last).lines


@pytest.mark.parametrize(("marking_periods", "sessions"), [(2, 2), (4, 1)])
def test_a_semester_is_made_of_marking_periods(cast: Cast, marking_periods: int, sessions: int) -> None:
    """Each of two lasts this one week; of four weeks as marking periods two are a semester, shared evenly."""
    make_ground(cast)
    for number in range(marking_periods):
        first = MONDAY + dt.timedelta(weeks=number)
        MarkingPeriod.objects.create(
            district=cast.district,
            school_year=SchoolYear.objects.get(),
            name=str(number + 1),
            first_day=first,
            last_day=first + dt.timedelta(days=4),
        )
    line = make_line(cast, "Q1", times=2, minutes=30, unit="semester", statement="2 x 30 min/semester")
    assert week_of(cast).lines[line.pk].owed.sessions == sessions
    MarkingPeriod.objects.order_by("pk").first().delete()  # type: ignore[union-attr]  # there are some
    assert any("marking periods don't make 2 semesters" in one for one in week_of(cast).notes)


# ---- the teacher -----------------------------------------------------------------------------------------


def test_the_teachers_rules_become_days(cast: Cast) -> None:
    rules = make_ground(cast)
    rules.start_place = cast.north
    rules.preparation_minutes = 450
    rules.preparation_per = "fortnight"
    rules.save()
    Meeting.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        title="Team",
        weekday=1,
        start=at("14:30"),
        end=at("15:30"),
        building=cast.south,
    )
    make_entry(cast, date(4), "closed")
    week = week_of(cast)
    tuesday = week.problem.day(date(1).isoformat())
    assert tuesday.start_place == "NORTH"
    # Only the part inside the contract day counts, and the run says so.
    assert [(one.start, one.end, one.place) for one in tuesday.blocks] == [
        (minute("14:30"), minute("15:00"), "SOUTH")
    ]
    assert any("Team" in note for note in week.notes)
    # Half of 450 minutes (Texas Education Code 21.404) for a whole week; four of five days ask for 180.
    assert week.problem.preparation is not None
    assert week.problem.preparation.minutes == 180


def test_a_meeting_once_a_month_blocks_that_week_alone(cast: Cast) -> None:
    """September 15 and 22, 2026, are the third and the fourth Tuesday, and the 29th is the last."""
    make_ground(cast)
    own = {"district": cast.district, "teacher": cast.teacher, "weekday": 1}
    Meeting.objects.create(title="Team", month_place=3, start=at("14:00"), end=at("14:30"), **own)
    Meeting.objects.create(title="Staff", month_place=-1, start=at("14:00"), end=at("14:45"), **own)
    weeks = [week_of(cast, MONDAY + dt.timedelta(days=days)) for days in (0, 7, 14)]
    titles = [[block.label for day in week.problem.days for block in day.blocks] for week in weeks]
    assert titles == [["Team"], [], ["Staff"]]


def test_two_meetings_at_once_are_refused(cast: Cast) -> None:
    make_ground(cast)
    for title in ("Team", "Call"):
        Meeting.objects.create(
            district=cast.district, teacher=cast.teacher, title=title, weekday=1, start=at("9:00"), end=at("9:30")
        )
    with pytest.raises(ApplicationError, match="overlap") as caught:
        week_of(cast)
    assert caught.value.code == "meetings_overlap"


def test_no_lunch_on_a_day_that_ends_before_it(cast: Cast) -> None:
    make_ground(cast)
    ContractDay.objects.filter(weekday=0).update(end=at("10:30"))
    week = week_of(cast)
    assert week.problem.day(MONDAY.isoformat()).lunch is None
    assert any("lunch" in note for note in week.notes)


# ---- what is missing -------------------------------------------------------------------------------------


def refused(cast: Cast, monday: dt.date = MONDAY) -> str:
    with pytest.raises(ApplicationError) as caught:
        load_week(cast.teacher, monday)
    return caught.value.code


def test_what_is_missing_is_named_with_its_remedy(cast: Cast) -> None:
    assert refused(cast) == "no_rules"
    make_ground(cast)
    assert refused(cast, dt.date(2030, 1, 7)) == "no_school_year"
    for n in range(5):
        make_entry(cast, date(n), "closed")
    assert refused(cast) == "no_school_days"


def test_no_contract_days_or_services(cast: Cast) -> None:
    make_ground(cast)
    ServiceLine.objects.all().delete()
    assert refused(cast) == "no_services"
    ContractDay.objects.all().delete()
    assert refused(cast) == "no_contract_days"


def test_a_building_without_coordinates_names_the_pair(cast: Cast) -> None:
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    cast.south.latitude = cast.south.longitude = None
    cast.south.save()
    with pytest.raises(ApplicationError, match="South Hollow School has no coordinates") as caught:
        week_of(cast)
    assert caught.value.code == "no_drive_time"


def test_buildings_in_two_time_zones_are_refused(cast: Cast) -> None:
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    cast.south.time_zone = "America/Chicago"
    cast.south.save()
    assert refused(cast) == "two_time_zones"


def test_a_building_without_bells_says_so(cast: Cast) -> None:
    make_ground(cast)
    cast.north.bell_schedules.all().delete()
    info = week_of(cast).info(key(cast.line))
    assert info.remarks == ("North Hollow School has no bell schedule: add its regular one.",)


# ---- privacy ---------------------------------------------------------------------------------------------


def student_names() -> set[str]:
    rows = ServiceLine.objects.values_list("plan__student__first_name", "plan__student__last_name")
    return {name for row in rows for name in row}


def test_no_name_of_a_student_enters_the_problem(cast: Cast) -> None:
    make_ground(cast)
    lines = [make_line(cast, code) for code in ("G1", "G2")]
    StudentHold.objects.create(student=lines[0].student, reason="speech", period="2")
    week = week_of(cast)
    text = json.dumps(problem_to_json(week.problem)) + repr(week.problem) + repr(week.notes)
    names = student_names()
    assert {"Ilsabet", "Quernmore-G1"} <= names
    assert [name for name in names if name in text] == []
    assert "G1" in text
