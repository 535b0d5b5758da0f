"""Working on the coming year: what is copied, what is missing, and that nothing of today changes."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from caseload.plans.models import Enrollment, Plan, ServiceLine, Student
from schedule.calendar.models import BellSchedule, CalendarEntry, SchoolYear
from schedule.calendar.selectors.school_days import load_calendars
from schedule.calendar.services.bells import bell_schedule_save
from schedule.next_year.models import NextYear, NextYearBuilding, NextYearClass, NextYearDay, NextYearStudent
from schedule.next_year.rolling import Lacks
from schedule.next_year.selectors.lines import BuildingLine
from schedule.next_year.selectors.standing import YearStanding
from schedule.next_year.services import drafting
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import PERIODS
from tests.schedule.next_year.ground import FIRST, LAST, SPRING, begin, make_spring
from travel.places.models import Building


@pytest.fixture
def lines(cast: Cast) -> dict[str, ServiceLine]:
    """The district in spring."""
    return make_spring(cast)


@pytest.fixture
def row(cast: Cast, lines: dict[str, ServiceLine]) -> NextYear:
    """A draft."""
    return begin(cast)


def building(cast: Cast, row: NextYear, name: str) -> BuildingLine:
    """A building's line."""
    standing = YearStanding(cast.coordinator, row)
    return next(one for one in standing.by_building if one.building.code == name)


def lacking(line: BuildingLine) -> dict[str, set[Lacks]]:
    """What is missing of whom, by code."""
    return {one.student.code: set(one.lacks) for one in line.lacking}


def test_marking_periods_and_special_days_are_a_year_later_on_the_same_weekday(row: NextYear) -> None:
    """September 1, 2026 is a Tuesday, and so is August 31, 2027; Thanksgiving is the fourth Thursday of November
    (5 U.S.C. 6103): November 25, 2027."""
    periods = [(one.first_day, one.last_day) for one in row.periods.all()]
    assert periods == [
        (dt.date(2027, 8, 31), dt.date(2028, 1, 28)),
        (dt.date(2028, 1, 31), dt.date(2028, 6, 16)),
    ]
    (day,) = row.days.all()
    assert (day.first_date, day.last_date) == (dt.date(2027, 11, 25), dt.date(2027, 11, 26))
    assert (day.was_first, day.answer) == (dt.date(2026, 11, 26), NextYearDay.Answer.ASKED)


def test_a_draft_writes_nothing_outside_itself(cast: Cast, row: NextYear) -> None:
    assert SchoolYear.objects.count() == 1
    assert CalendarEntry.objects.count() == 1
    assert not Enrollment.objects.filter(first_day__isnull=False).exists()


def test_what_is_missing_stands_at_its_building(cast: Cast, row: NextYear) -> None:
    """The plans of the ground end with this year, so each student's is to renew."""
    north, south = building(cast, row, "NORTH"), building(cast, row, "SOUTH")
    assert lacking(north) == {
        "S01": {Lacks.SUMMER},
        "T3": {Lacks.SUMMER},
        "T5": {Lacks.BUILDING, Lacks.SUMMER},
    }
    assert lacking(south)["T8"] == {Lacks.BUILDING, Lacks.SUMMER}
    assert lacking(building(cast, row, "HIGH")) == {"T12": {Lacks.LEAVES, Lacks.SUMMER}}
    assert (north.bells_lack, south.bells_lack) == ("unsaid", "unsaid")
    assert {one.school_class.code: one.lacks for one in north.classes} == {"RM4": (), "RM5": ("period",)}


def test_bells_of_the_coming_year_are_entered_among_the_bells(cast: Cast, row: NextYear) -> None:
    """From its first day on; then nobody has to say that they stay, and this year rings as before."""
    bells = BellSchedule.objects.get(building=cast.north)
    periods = [{"name": "1", "start": dt.time(8), "end": dt.time(9)}]
    bell_schedule_save(actor=cast.coordinator, row=bells, values={"periods": periods, "first_day": FIRST})
    north, south = building(cast, row, "NORTH"), building(cast, row, "SOUTH")
    assert (north.bells_new, north.bells_stay, north.bells_lack) == (True, False, "")
    assert (south.bells_new, south.bells_lack) == (False, "unsaid")
    calendar = load_calendars(cast.district, [cast.north], SchoolYear.objects.get())[cast.north.pk]
    rung = calendar.facts(max(calendar.open_dates)).bells
    assert rung is not None
    assert len(rung.periods) == len(PERIODS)


def test_what_is_said_is_missing_no_more(cast: Cast, row: NextYear, lines: dict[str, ServiceLine]) -> None:
    place = NextYearBuilding(next_year=row, building=cast.north)
    values = {"next_building": cast.south, "bells_stay": True}
    drafting.next_building_save(actor=cast.coordinator, row=place, values=values)
    student = lines["twelfth"].plan.student
    drafting.next_student_save(
        actor=cast.coordinator,
        row=NextYearStudent(next_year=row, student=student),
        values={"choice": "leaves"},
    )
    north, south = building(cast, row, "NORTH"), building(cast, row, "SOUTH")
    assert north.bells_lack == ""
    assert "T5" not in lacking(north)
    assert lacking(south)["T5"] == {Lacks.SUMMER}
    high = building(cast, row, "HIGH")
    assert lacking(high) == {}
    assert [one.student.code for one in high.leaving] == ["T12"]


def test_a_new_student_is_in_it_by_the_rule(cast: Cast, row: NextYear) -> None:
    """Months later somebody enrolls: nobody has to copy again."""
    Student.objects.create(
        district=cast.district,
        building=cast.north,
        caseload_teacher=cast.teacher,
        code="NEW",
        first_name="Ilsabet",
        last_name="Quernmore-N",
        grade="K",
    )
    line = next(one for one in building(cast, row, "NORTH").coming if one.student.code == "NEW")
    assert (line.coming.grade, line.coming.building_id) == ("1", cast.north.pk)


def test_a_plan_that_reaches_into_the_year_is_not_missing(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    plan = lines["third"].plan
    type(plan).objects.filter(pk=plan.pk).update(end=FIRST)
    assert "T3" not in lacking(building(cast, row, "NORTH"))


def test_who_teaches_nobody_then_is_missing(cast: Cast, row: NextYear) -> None:
    cast.teacher.is_active = False
    cast.teacher.save()
    assert Lacks.TEACHER in lacking(building(cast, row, "NORTH"))["T3"]


def test_a_class_that_does_not_go_on_leaves_its_students_without_one(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    room = lines["third"].plan.student.home_class
    assert room is not None
    drafting.next_class_save(
        actor=cast.coordinator,
        row=NextYearClass(next_year=row, school_class=room),
        values={"goes_on": False},
    )
    assert Lacks.CLASS in lacking(building(cast, row, "NORTH"))["T3"]
    room.refresh_from_db()
    assert room.grades == "3,4"


def test_a_page_of_a_building_is_saved_whole_or_not_at_all(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    student = lines["third"].plan.student
    elsewhere = cast.room4
    with pytest.raises(ValidationError) as caught:
        drafting.building_page_save(
            actor=cast.coordinator,
            row=row,
            building={"building": cast.north, "bells_stay": True},
            classes={},
            students={
                student.pk: {
                    "student": student,
                    "choice": "goes_on",
                    "building": cast.south,
                    "home_class": elsewhere,
                }
            },
        )
    assert list(caught.value.message_dict) == [f"student.{student.pk}"]
    assert not row.buildings.exists()


def test_refused_beginnings(cast: Cast, lines: dict[str, ServiceLine]) -> None:
    with pytest.raises(ValidationError, match="Choose a day after it"):
        begin(cast, first_day=dt.date(2027, 6, 18))
    with pytest.raises(ApplicationError) as caught:
        drafting.next_year_begin(actor=cast.teacher, name="2027-28", first_day=FIRST, last_day=LAST, now=SPRING)
    assert caught.value.status == 403
    begin(cast)
    with pytest.raises(ValidationError, match="being worked on already"):
        begin(cast, name="2027-28 again")


def test_marking_periods_stay_in_the_year_and_apart(cast: Cast, row: NextYear) -> None:
    first = row.periods.first()
    assert first is not None
    save = drafting.next_period_save
    with pytest.raises(ValidationError, match="inside the year"):
        save(actor=cast.coordinator, row=first, values={"first_day": FIRST - dt.timedelta(days=1)})
    with pytest.raises(ValidationError, match="already"):
        save(actor=cast.coordinator, row=first, values={"first_day": FIRST, "last_day": dt.date(2028, 2, 1)})
    with pytest.raises(ApplicationError):
        save(actor=cast.teacher, row=first, values={"first_day": FIRST, "last_day": dt.date(2028, 1, 3)})


def test_nobody_else_sees_it(cast: Cast, row: NextYear) -> None:
    for person in (cast.teacher, cast.office, cast.stranger, cast.substitute):
        assert not NextYear.objects.visible_to(person).exists()
        assert not NextYearDay.objects.visible_to(person).exists()


@pytest.mark.parametrize("place", ["office", "closing"])
def test_nobody_goes_to_an_office_or_to_a_building_that_closes(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine], place: str
) -> None:
    """The page offers neither; the API is told by the service."""
    if place == "office":
        Building.objects.filter(pk=cast.south.pk).update(level="base")
    else:
        Building.objects.filter(pk=cast.south.pk).update(last_day=FIRST - dt.timedelta(days=30))
    api = Api(cast.coordinator)
    student = lines["fifth"].plan.student.pk
    asked = {"next_year": row.pk, "student": student, "building": cast.south.pk}
    refused = api.post("next-year-students/", expect=400, **asked)
    said = {"office": "is no school", "closing": "is closed for good by then"}[place]
    assert said in str(refused)
    goes = {"next_year": row.pk, "building": cast.north.pk, "next_building": cast.south.pk}
    assert said in str(api.post("next-year-buildings/", expect=400, **goes))
    assert not row.students.exists()


def test_a_plan_that_ends_in_the_summer_is_listed_apart(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine]
) -> None:
    """Many plans run to June 30 (common practice, no source): those are to renew, not one that ended before."""
    ends = {"third": dt.date(2027, 7, 31), "fifth": dt.date(2027, 3, 1), "eighth": LAST}
    for name, day in ends.items():
        Plan.objects.filter(pk=lines[name].plan_id).update(end=day)
    north = lacking(building(cast, row, "NORTH"))
    assert Lacks.SUMMER in north["T3"]
    assert Lacks.PLAN not in north["T3"]
    fifth = next(one for one in YearStanding(cast.coordinator, row).students if one.student.code == "T5")
    assert (Lacks.PLAN in fifth.lacks, Lacks.SUMMER in fifth.lacks) == (True, False)
    eighth = next(one for one in YearStanding(cast.coordinator, row).students if one.student.code == "T8")
    assert not {Lacks.PLAN, Lacks.SUMMER} & set(eighth.lacks)
