"""The fixed cast: one district with everyone in it, and a stranger of another."""

import datetime as dt
import gc
import os
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from zoneinfo import ZoneInfo

import django.test
import pytest
from django.db import connection
from django.utils import timezone
from hypothesis import HealthCheck, settings

from accounts.models import District, Person
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student
from tests import databases
from tests.roads import helsinki, helsinki_engine, helsinki_roads, osrm_server, second_roads, valhalla_server
from tests.services import leave_out, postgres_url, redis_server
from tests.sides import migrated_database, migrated_file, postgres_side, side, sqlite_side
from travel.places.models import Building, BuildingStaff, Space

# Fixtures of the whole run. One that several modules import is made anew for each of them, whatever its scope.
__all__ = [
    "helsinki",
    "helsinki_engine",
    "helsinki_roads",
    "migrated_database",
    "migrated_file",
    "osrm_server",
    "postgres_side",
    "postgres_url",
    "redis_server",
    "second_roads",
    "side",
    "sqlite_side",
    "valhalla_server",
]
ZONE = "America/New_York"

# Properties are held, not speed: on a busy machine the first example alone may take longer than the usual limit.
settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")

PASSWORD = "long-enough-for-a-test"

OF_THE_DATABASE = {"db", "transactional_db"}
OF_ROADS = {"helsinki_roads", "second_roads"}
"""A map that an engine has prepared, which takes some seconds."""
OF_SIDE_PROCESSES = {"side", "sqlite_side", "postgres_side"}


# The tests themselves are very many objects, which stay: looking through them again and again for garbage took a
# fifth of a run's processor time. What tests make is collected as ever.
gc.disable()


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop() -> None:
    """The tests are all there: leave them out of what is looked through, and look from now on, but not so often."""
    gc.freeze()
    gc.set_threshold(50_000, 10, 10)
    gc.enable()


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--database-only``: for a second kind of database."""
    parser.addoption(
        "--database-only",
        action="store_true",
        help="only tests that use the tests' database: the others are the same whatever it is",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what follows from a test's fixtures, so that it is right for new tests as well."""
    for item in items:
        if _fixtures(item) & (OF_SIDE_PROCESSES | OF_ROADS):
            item.add_marker("long")
        if not uses_database(item):
            item.add_marker("core")
        if "pages" in item.path.stem:
            item.add_marker("pages")
        if getattr(config.option, "loadgroup", False) and (group := _group(item)):
            # As xdist 3.8 does for its marker, but it writes to where pytest no longer looks from 9.2 on.
            item._id = type(item.id).parse(f"{item.nodeid}@{group}")
    if config.getoption("--database-only"):
        config.hook.pytest_deselected(items=[item for item in items if not uses_database(item)])
        items[:] = [item for item in items if uses_database(item)]


def _fixtures(item: pytest.Item) -> set[str]:
    return set(getattr(item, "fixturenames", ()))


def uses_database(item: pytest.Item) -> bool:
    """Whether it asks for the tests' database, itself or by one of its fixtures."""
    if _fixtures(item) & OF_THE_DATABASE or item.get_closest_marker("django_db"):
        return True
    kind = getattr(item, "cls", None)
    return kind is not None and issubclass(kind, django.test.TransactionTestCase)


def _group(item: pytest.Item) -> str:
    """The tests that meet in one worker, so that what they share is made once; empty where it doesn't matter."""
    if _fixtures(item) & OF_ROADS:
        return "roads"
    if "postgres_url" in _fixtures(item) or item.get_closest_marker("postgres"):
        return "postgres"
    info = getattr(item, "_fixtureinfo", None)
    shared = info is not None and any(found[-1].scope == "module" for found in info.name2fixturedefs.values())
    return item.nodeid.partition("::")[0] if shared else ""


@pytest.fixture(scope="session")
def tables_kept(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which tables are kept from run to run."""
    cache = getattr(request.config, "cache", None)
    found: Path = cache.mkdir("tables") if cache is not None else tmp_path_factory.mktemp("tables")
    return found


@pytest.fixture(scope="session")
def tables(tables_kept: Path) -> Path:
    """An SQLite file with all tables, to be copied."""
    return databases.migrated_file(tables_kept)


@pytest.fixture(scope="session")
def django_db_keepdb(request: pytest.FixtureRequest) -> bool:
    """What is copied into it before stays; a database in memory goes with its process anyway."""
    return bool(databases.name_in_memory() or request.config.getoption("reuse_db"))


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings: None, request: pytest.FixtureRequest
) -> Iterator[None]:
    """pytest-django's, and the tables are there before it asks for them."""
    if databases.name_in_memory():
        with databases.filled_memory(request.getfixturevalue("tables")):
            yield
        return
    if connection.vendor == "postgresql" and not request.config.getoption("reuse_db"):
        kept = request.getfixturevalue("tables_kept")
        connection.settings_dict["TEST"]["TEMPLATE"] = databases.migrated_template(kept, os.environ["DATABASE_URL"])
    yield


@pytest.fixture
def no_record_of_templates(monkeypatch: pytest.MonkeyPatch) -> None:
    """For thousands of requests: Django's client copies the context of every template, and nobody looks at it."""
    monkeypatch.setattr(django.test.client, "store_rendered_templates", lambda *_args, **_values: None)


@dataclass
class Cast:
    """Everyone and everything that a scoping test asks for.

    `teacher` owns the caseload, `mate` is another teacher of the district, `coordinator` answers for it, `office`
    works in the north building, `substitute` covers nobody yet, `stranger` is a coordinator elsewhere.
    """

    district: District
    other_district: District
    teacher: Person
    mate: Person
    coordinator: Person
    office: Person
    substitute: Person
    stranger: Person
    north: Building
    south: Building
    gym: Space
    room4: SchoolClass
    student: Student
    mates_student: Student
    plan: Plan
    line: ServiceLine


def make_person(district: District, username: str, role: Person.Role) -> Person:
    """A person with a password in a district."""
    return Person.objects.create_user(
        username=username,
        password=PASSWORD,
        district=district,
        role=role,
        first_name=username.title(),
        last_name="Vey",
    )


def make_student(district: District, building: Building, teacher: Person, code: str) -> Student:
    """A student of a teacher's caseload."""
    return Student.objects.create(
        district=district,
        building=building,
        caseload_teacher=teacher,
        code=code,
        first_name="Ola",
        last_name=f"Tarn {code}",
        grade="3",
    )


@pytest.fixture
def cast(db: None) -> Cast:
    """The cast in the database."""
    return make_cast()


def date_there() -> dt.date:
    """The date in the cast's district, which in its evenings isn't the date in UTC."""
    return timezone.localdate(timezone=ZoneInfo(ZONE))


def make_cast() -> Cast:
    """Everyone and everything of the cast, saved."""
    district = District.objects.create(name="Marrow Vale County", time_zone=ZONE, state="NY")
    other = District.objects.create(name="Farther Fells", time_zone="America/Chicago", state="IA")
    teacher = make_person(district, "teacher", Person.Role.TEACHER)
    mate = make_person(district, "mate", Person.Role.TEACHER)
    office = make_person(district, "office", Person.Role.OFFICE)
    north = Building.objects.create(
        district=district, code="NORTH", name="North Hollow School", latitude="43.10", longitude="-75.20"
    )
    south = Building.objects.create(
        district=district, code="SOUTH", name="South Hollow School", latitude="43.02", longitude="-75.25"
    )
    BuildingStaff.objects.create(building=north, person=office)
    student = make_student(district, north, teacher, "S01")
    plan = Plan.objects.create(student=student, start=dt.date(2026, 9, 1), end=dt.date(2027, 6, 18))
    line = ServiceLine.objects.create(
        plan=plan,
        provider=teacher,
        statement="2 x 30 min/week",
        times=2,
        minutes=30,
        setting=ServiceLine.Setting.ONE_TO_ONE,
        start=plan.start,
        end=plan.end,
    )
    return Cast(
        district=district,
        other_district=other,
        teacher=teacher,
        mate=mate,
        coordinator=make_person(district, "coordinator", Person.Role.COORDINATOR),
        office=office,
        substitute=make_person(district, "substitute", Person.Role.SUBSTITUTE),
        stranger=make_person(other, "stranger", Person.Role.COORDINATOR),
        north=north,
        south=south,
        gym=Space.objects.create(building=north, name="Gym", kind="gym"),
        room4=SchoolClass.objects.create(building=north, code="RM4", name="Room 4"),
        student=student,
        mates_student=make_student(district, south, mate, "S02"),
        plan=plan,
        line=line,
    )


@pytest.fixture(scope="session")
def pango() -> None:
    """The system library that PDF files need; without it the tests that make such files are left out by name."""
    try:
        import_module("weasyprint")
    except OSError:
        leave_out("Pango (Debian packages libpango-1.0-0 and libpangoft2-1.0-0)", "the tests that make PDF files")
