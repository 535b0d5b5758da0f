"""The invented district of the demo: people first, then its files through the same import as anybody's.

Its password is printed for everyone to read, so it goes only into a database that holds no other district. It is no
given password (accounts.people.services): it lets everybody in any number of times, and doesn't have to be changed.
"""

import datetime as dt
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person, Substitution
from accounts.services import audit_write
from caseload.care.models import CautionTag
from caseload.delivery.services.rules import ledger_settings_save
from caseload.ledger.terms import ShortWeek
from schedule.calendar.models import BellSchedule, CalendarEntry, MarkingPeriod, SchoolYear
from schedule.calendar.services.records import calendar_entry_save, marking_period_save, school_year_save
from schedule.equipment.models import SpaceCautions
from schedule.equipment.services import space_cautions_save
from schedule.imports.files.problems import RowProblem
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview
from schedule.imports.services.tables import SEVERAL, import_commit, import_preview
from travel.places.models import Building, BuildingStaff, Space

DISTRICT_NAME = "Marrow Vale County"
TIME_ZONE = "America/New_York"
PASSWORD = "marrow-vale-demo"  # noqa: S105 -- public on purpose: printed by script/demo, see the module's docstring
_FORTNIGHT = dt.timedelta(days=14)
_FIRST_DAY, _LAST_DAY = dt.date(2026, 9, 8), dt.date(2027, 6, 25)
_MARKING_PERIODS = (
    ("Marking period 1", _FIRST_DAY, dt.date(2026, 11, 13)),
    ("Marking period 2", dt.date(2026, 11, 16), dt.date(2027, 1, 29)),
    ("Marking period 3", dt.date(2027, 2, 1), dt.date(2027, 4, 16)),
    ("Marking period 4", dt.date(2027, 4, 19), _LAST_DAY),
)
_ASSEMBLY_DAYS = (dt.date(2026, 12, 18), dt.date(2027, 3, 5))


@dataclass(frozen=True, slots=True)
class DemoLogin:
    """Somebody of the demo who can sign in."""

    username: str
    first_name: str
    last_name: str
    role: Person.Role
    note: str


LOGINS = (
    DemoLogin("teacher", "Hollis", "Marchbanks", Person.Role.TEACHER, "the itinerant teacher"),
    DemoLogin("coordinator", "Odile", "Farrant", Person.Role.COORDINATOR, "answers for the district"),
    DemoLogin("office", "Greta", "Ilsley", Person.Role.OFFICE, "office of Tansy Hollow Primary School"),
    DemoLogin("substitute", "Anselm", "Roke", Person.Role.SUBSTITUTE, "covers the teacher for two weeks"),
)


def demo_district_load(*, folder: Path, today: dt.date, force: bool = False) -> bool:
    """Load the demo from its files, all of it or nothing; False if it is there already.

    `today` is the local date from which the substitute covers the teacher. Raises `ApplicationError` if the
    database holds another district (unless `force`) or if the files have problems, naming them.
    """
    with transaction.atomic():
        if District.objects.filter(name=DISTRICT_NAME).exists():
            return False
        if not force and District.objects.exists():
            raise ApplicationError(
                "This database holds another district already. Use an empty database for the demo, for instance "
                "DATABASE_URL=sqlite:///var/demo.sqlite3.",
                code="another_district",
            )
        people = _people_add(today)
        _year_add(people["coordinator"])
        _tables_import(people["teacher"], folder)
        _calendar_import(people["teacher"], folder)
        _links_add(people)
        # The demo's state asks for its minutes each calendar week, short or not (8 NYCRR 135.4).
        ledger_settings_save(actor=people["coordinator"], values={"short_week": ShortWeek.WHOLE})
    return True


def _people_add(today: dt.date) -> dict[str, Person]:
    """The district, everyone who signs in, and the substitution."""
    district = District(name=DISTRICT_NAME, time_zone=TIME_ZONE, state="NY")
    district.full_clean()
    district.save()
    people: dict[str, Person] = {}
    for login in LOGINS:
        person = Person(
            username=login.username,
            first_name=login.first_name,
            last_name=login.last_name,
            role=login.role,
            district=district,
        )
        # Set and not given: everybody who tries the demo signs in with it, as often as they like.
        person.set_password(PASSWORD)
        person.full_clean()
        person.save()
        people[login.username] = person
    substitution = Substitution(
        substitute=people["substitute"],
        teacher=people["teacher"],
        first_date=today,
        last_date=today + _FORTNIGHT,
    )
    substitution.full_clean()
    substitution.save()
    audit_write(actor=None, district=district, action="demo_district_load", row=district)
    return people


def _year_add(coordinator: Person) -> None:
    """The school year with its marking periods: imported calendars hold neither."""
    year = school_year_save(
        actor=coordinator,
        row=SchoolYear(district=coordinator.district),
        values={"name": "2026-27", "first_day": _FIRST_DAY, "last_day": _LAST_DAY},
    )
    for name, first_day, last_day in _MARKING_PERIODS:
        marking_period_save(
            actor=coordinator,
            row=MarkingPeriod(district=coordinator.district),
            values={"school_year": year, "name": name, "first_day": first_day, "last_day": last_day},
        )


def _tables_import(teacher: Person, folder: Path) -> None:
    """Every filled template of the folder as one import. Raises `ApplicationError` naming the first problems."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for file in sorted(folder.glob("*.csv")):
            archive.write(file, file.name)
    batch = import_preview(actor=teacher, kind=SEVERAL, filename="demo.zip", content=packed.getvalue())
    _refuse_problems(batch)
    import_commit(actor=teacher, batch=batch)


def _calendar_import(teacher: Person, folder: Path) -> None:
    """The calendar as a school website publishes it, each event taken for what its words say."""
    file = folder / "school-calendar.ics"
    batch = calendar_preview(
        actor=teacher, filename=file.name, content=file.read_bytes(), first=_FIRST_DAY, last=_LAST_DAY
    )
    _refuse_problems(batch)
    calendar_commit(actor=teacher, batch=batch, kinds=[group["kind"] for group in batch.content["groups"]])


def _refuse_problems(batch: ImportBatch) -> None:
    if batch.problem_count:
        found = [RowProblem.from_json(problem) for problem in batch.content["problems"][:5]]
        words = " ".join(f"{one.table}, row {one.row}, {one.column}: {one.message}" for one in found)
        raise ApplicationError(f"The demo's files have problems. {words}", code="import_has_problems")


def _links_add(people: dict[str, Person]) -> None:
    """What no file brings: the office's own building, the water in the pool, the assembly bells of one school."""
    coordinator = people["coordinator"]
    office = BuildingStaff(
        person=people["office"], building=Building.objects.visible_to(coordinator).get(code="TANSY")
    )
    office.full_clean()
    office.save()
    pool = Space.objects.visible_to(coordinator).get(kind="pool")
    water = CautionTag.objects.visible_to(coordinator).filter(name="water")
    space_cautions_save(actor=coordinator, row=SpaceCautions(space=pool), values={"caution_tags": list(water)})
    bells = BellSchedule.objects.visible_to(coordinator).get(kind=BellSchedule.Kind.ASSEMBLY)
    for day in _ASSEMBLY_DAYS:
        calendar_entry_save(
            actor=coordinator,
            row=CalendarEntry(district=coordinator.district),
            values={
                "building": bells.building,
                "first_date": day,
                "last_date": day,
                "kind": CalendarEntry.Kind.OTHER_BELL,
                "bell_schedule": bells,
                "title": "Assembly",
            },
        )
