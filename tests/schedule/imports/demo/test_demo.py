"""The invented district: what is in it, and that loading it is safe to repeat."""

import datetime as dt
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import transaction
from django.test import Client

from accounts.models import Person
from caseload.care.models import Caution
from caseload.care.selectors import care_of
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student
from schedule.calendar.models import BellSchedule, CalendarEntry, DayRotation, MarkingPeriod
from schedule.class_hour.models import RoutinePart
from schedule.class_hour.selectors.routines import routines_for
from schedule.equipment.models import SpaceCautions
from schedule.imports.models import ImportBatch
from schedule.imports.services.demo import LOGINS, PASSWORD, DemoLogin, demo_district_load
from schedule.planner.check import check
from schedule.planner.result import GoalFigures
from schedule.planner.solve import solve
from schedule.weeks.planning.load import load_week
from tests.conftest import date_there
from travel.drives.selectors import drive_table
from travel.places.models import Building, Space

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


@pytest.fixture(scope="module")
def loaded(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[None]:
    """The demo, loaded once for the whole file: each test works inside this transaction and leaves no trace."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]  # pytest-django's blocker
        assert demo_district_load(folder=FIXTURES, today=date_there())
        yield
        transaction.set_rollback(True)


@pytest.fixture
def teacher(loaded: None, db: None) -> Person:
    """The teacher of the demo."""
    return Person.objects.get(username="teacher")


def test_seven_schools_with_bells_of_their_own(teacher: Person) -> None:
    buildings = Building.objects.visible_to(teacher)
    assert buildings.count() == 7
    grids = {
        tuple(bells.periods.values_list("start", "end"))
        for bells in BellSchedule.objects.filter(kind=BellSchedule.Kind.REGULAR)
    }
    assert len(grids) == 7
    for building in buildings:
        kinds = set(building.bell_schedules.values_list("kind", flat=True))
        assert kinds >= {"regular", "early_dismissal", "delayed_opening"}
    assert BellSchedule.objects.filter(kind=BellSchedule.Kind.ASSEMBLY).count() == 1


def test_both_kinds_of_rotation(teacher: Person) -> None:
    cycle = DayRotation.objects.get(kind=DayRotation.Kind.CYCLE)
    assert (cycle.length, cycle.practice) == (6, DayRotation.Practice.NEXT_UNUSED)
    assert DayRotation.objects.get(kind=DayRotation.Kind.AB_WEEKS).practice == DayRotation.Practice.FIXED


def test_the_caseload_has_every_kind_of_service(teacher: Person) -> None:
    assert Student.objects.visible_to(teacher).count() == 34
    ratios = SchoolClass.objects.filter(kind=SchoolClass.Kind.SELF_CONTAINED).values_list("ratio", flat=True)
    # Special classes as in 8 NYCRR 200.6(h)(4).
    assert sorted(ratios) == ["12:1+(3:1)", "12:1:1", "6:1:1", "8:1:1"]
    assert set(ServiceLine.objects.values_list("setting", flat=True)) == set(ServiceLine.Setting.values)
    consultations = ServiceLine.objects.filter(service_type=ServiceLine.Type.CONSULTATION)
    assert {(line.times, line.minutes, line.unit) for line in consultations} == {(1, 15, "month")}
    units = set(ServiceLine.objects.values_list("unit", flat=True))
    assert units == {"week", "month", "cycle"}


def test_one_student_waits_for_a_plan(teacher: Person) -> None:
    waiting = Plan.objects.get(status=Plan.Status.PROVISIONAL)
    assert waiting.lines.count() == 1


def test_one_school_is_half_an_hour_away(teacher: Person) -> None:
    buildings = list(Building.objects.visible_to(teacher))
    table = drive_table(teacher, buildings)
    assert not table.missing
    assert not table.warnings
    far = next(building for building in buildings if building.code == "CRAG")
    for one in buildings:
        for other in buildings:
            if one != other:
                minutes = table.minutes(one.pk, other.pk)
                assert (25 <= minutes <= 36) if far in {one, other} else minutes <= 20


def test_a_gym_is_shared_and_free_in_some_periods_only(teacher: Person) -> None:
    gym = Space.objects.get(building__code="BRACK", name="Gym")
    assert gym.classes_that_fit == 2
    assert gym.free_times.exists()


def test_the_page_says_who_decides_and_no_caution_says_it_again(teacher: Person) -> None:
    students = Student.objects.filter(caution_rows__isnull=False).distinct()
    assert len(students) >= 5
    assert not any("Ask before" in one.text for one in Caution.objects.all())
    assert all(one.ask_first for one in care_of(teacher, [student.pk for student in students]).values())


def test_the_calendar_came_in_from_the_published_file(teacher: Person) -> None:
    entries = CalendarEntry.objects.filter(district=teacher.district)
    # Thanksgiving 2026 is Thursday, November 26 (the fourth one: 5 U.S.C. 6103).
    recess = entries.get(first_date=dt.date(2026, 11, 25))
    assert (recess.last_date, recess.kind) == (dt.date(2026, 11, 27), CalendarEntry.Kind.CLOSED)
    assert entries.filter(kind=CalendarEntry.Kind.DELAYED_OPENING).count() == 2
    assert entries.get(first_date=dt.date(2026, 12, 23)).kind == CalendarEntry.Kind.EARLY_DISMISSAL
    assert not entries.filter(title__contains="Board").exists()
    assert MarkingPeriod.objects.filter(district=teacher.district).count() == 4


def test_everything_came_through_the_imports(teacher: Person) -> None:
    committed = ImportBatch.objects.filter(person=teacher, state=ImportBatch.State.COMMITTED)
    assert set(committed.values_list("kind", flat=True)) == {"several", "calendar"}


def test_loading_again_changes_nothing(teacher: Person) -> None:
    Building.objects.filter(code="TANSY").update(name="Renamed by a visitor")
    assert not demo_district_load(folder=FIXTURES, today=dt.date(2026, 11, 25))
    assert Building.objects.get(code="TANSY").name == "Renamed by a visitor"
    assert Student.objects.count() == 34


def test_the_command_prints_who_can_sign_in(teacher: Person) -> None:
    out = StringIO()
    call_command("load_demo", stdout=out)
    assert "is in place" in out.getvalue()
    for login in LOGINS:
        assert login.username in out.getvalue()
    assert PASSWORD in out.getvalue()


@pytest.mark.parametrize("login", LOGINS, ids=lambda login: login.username)
def test_everyone_can_sign_in_again_and_again(teacher: Person, login: DemoLogin) -> None:
    for client in (Client(), Client()):
        client.post("/sign-in/", {"username": login.username, "password": PASSWORD})
        assert client.session.get("_auth_user_id") == str(Person.objects.get(username=login.username).pk)
        assert client.get("/buildings/").status_code == 200, "nobody is asked to choose a password"


def test_the_substitute_sees_the_caseload_and_the_office_no_student(teacher: Person) -> None:
    assert Student.objects.visible_to(Person.objects.get(username="substitute")).count() == 34
    office = Person.objects.get(username="office")
    assert not Student.objects.visible_to(office).exists()
    assert [building.code for building in Building.objects.visible_to(office)] == ["TANSY"]


class Placed:
    """Stops a search as soon as every owed minute has a place: the test is about the week, not about the proof."""

    def __init__(self) -> None:
        self.found = False

    def hear(self, _seconds: float, _stage: str, _message: str, figures: GoalFigures | None) -> None:
        """Progress of the search."""
        self.found = self.found or (figures is not None and figures.unplaced == 0)

    def stop(self) -> bool:
        """Whether the search may end."""
        return self.found


@pytest.mark.parametrize("monday", [dt.date(2026, 11, 30), dt.date(2027, 1, 11)])
def test_a_regular_week_has_a_place_for_everything(teacher: Person, monday: dt.date) -> None:
    problem = load_week(teacher, monday).problem
    placed = Placed()
    result = solve(problem, seed=1, time_limit=600, progress=placed.hear, stop=placed.stop)
    assert result.unplaced == ()
    assert result.plan is not None
    assert 38 <= len(result.plan.sessions) <= 45
    assert check(problem, result.plan).holds


def test_the_week_of_thanksgiving_leaves_some_over_and_says_why(teacher: Person) -> None:
    problem = load_week(teacher, dt.date(2026, 11, 23)).problem
    result = solve(problem, seed=1, time_limit=5)
    assert result.unplaced
    for left in result.unplaced:
        assert left.sentence
        assert left.ask or left.reasons


def test_the_four_special_classes_have_their_routines(teacher: Person) -> None:
    """Each as long as its class's session, ending with a part that never falls out, and nothing that is nowhere."""
    rows = {str(row.school_class): row for row in routines_for(teacher)}
    assert sorted(rows) == ["Life skills room", "Room 108", "Room 12", "Room 3"]
    lengths = {name: row.usual_minutes for name, row in rows.items()}
    assert lengths == {"Room 3": 30, "Room 12": 40, "Room 108": 42, "Life skills room": 36}
    for row in rows.values():
        parts = list(row.parts.all())
        assert parts[-1].when_short == RoutinePart.Short.NEVER_FALLS_OUT
        assert {need.equipment.stocks.exists() for part in parts for need in part.needs.all()} == {True}


def test_the_pool_asks_about_water(teacher: Person) -> None:
    """Whoever has a caution about water is asked about before going there."""
    row = SpaceCautions.objects.get()
    assert (row.space.kind, [tag.name for tag in row.caution_tags.all()]) == ("pool", ["water"])
