"""A district as it was stored before figures had dates, by the models of then; and its figures before and after.

Used by benchmarks/upgrade.py. `apps` are the models of then (django.db.migrations.state). Invented names only.
"""

import csv
import datetime as dt
import hashlib
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.db.models import F, Sum

from accounts.models import District, Person
from caseload.care.models import Caution, Support
from caseload.delivery.models import DeliveryVersion
from caseload.plans.frequency import read_frequency
from caseload.plans.models import ContinuingService, Enrollment, ServiceLine, Student
from schedule.log.selectors.ledger import ledgers_of
from travel.mileage.models import VoucherLine
from travel.mileage.selectors import trip_claims

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
FIRST, LAST = dt.date(2026, 9, 8), dt.date(2027, 6, 25)
COUNTED, WEEKS = dt.date(2026, 9, 14), 4
AS_OF = COUNTED + dt.timedelta(weeks=WEEKS, days=-1)
STUDENTS_EACH, SCHOOLS_EACH = 30, 3
PARTS = ("times", "minutes", "minutes_total", "unit", "cycle_days", "weeks_on", "weeks_of")
BATCH = 2000


def fill(apps: Any, teachers: int) -> None:
    """So many teachers, each with three schools and thirty students of two sessions a week."""
    ground = _ground(apps)
    for number in range(teachers):
        teacher = _person(apps, ground["district"], f"teacher{number}", "teacher")
        schools = [_school(apps, ground, f"B{number}-{at}") for at in range(SCHOOLS_EACH)]
        lines = []
        for at in range(STUDENTS_EACH):
            texts = {"supports": f"Cue card {at}" if at % 3 == 0 else "", "cautions": "Heat" if at % 5 == 0 else ""}
            student = _student(apps, ground, f"S{number}-{at}", schools[at % SCHOOLS_EACH], teacher, **texts)
            lines.append(_line(apps, student, teacher, "2 x 30 min/week"))
        _log(apps, ground, lines, teacher)
        _miles(apps, ground, teacher, schools)


def fill_demo(apps: Any) -> None:
    """The demo's schools, students and plans, with four weeks of log."""
    ground = _ground(apps)
    teacher = _person(apps, ground["district"], "teacher", "teacher")
    schools = {row["Building code"]: _school(apps, ground, row["Building code"]) for row in _rows("buildings")}
    # Of then a student had one text each: the first caution of now stands for it.
    cautions = {row["Student code"]: row["Text"] for row in reversed(_rows("cautions"))}
    students = {
        row["Student code"]: _student(
            apps,
            ground,
            row["Student code"],
            schools[row["Building code"]],
            teacher,
            grade=row["Grade"],
            supports=row["Supports"],
            cautions=cautions.get(row["Student code"], ""),
        )
        for row in _rows("students")
    }
    lines = [
        _line(
            apps,
            students[row["Student code"]],
            teacher,
            row["Statement"],
            service_type=row["Service type"] or "direct",
            start=row["Service start"] or row["Plan start"],
            end=row["Service end"] or row["Plan end"],
        )
        for row in _rows("plans")
    ]
    _log(apps, ground, lines, teacher)
    _miles(apps, ground, teacher, list(schools.values()))


def _rows(name: str) -> list[dict[str, str]]:
    with (FIXTURES / f"{name}.csv").open() as file:
        return list(csv.DictReader(file))


# ---- rows of then ----------------------------------------------------------------------------------------


def _ground(apps: Any) -> dict[str, Any]:
    """The district, its coordinator, year, rules and reasons."""
    district = apps.get_model("accounts", "District").objects.create(name="Generated", time_zone="America/New_York")
    coordinator = _person(apps, district, "coordinator", "coordinator")
    year = {"district": district, "name": "2026-27", "first_day": FIRST, "last_day": LAST}
    apps.get_model("schedule", "SchoolYear").objects.create(**year)
    rules = {"district": district, "short_week": "any_day", "counts_from": COUNTED}
    apps.get_model("caseload", "LedgerSettings").objects.create(**rules)
    reasons = apps.get_model("caseload", "MissedReason")
    owed = reasons.objects.create(district=district, code="assembly", words="Assembly", effect="owed")
    absent = reasons.objects.create(district=district, code="absent", words="Absent", effect="not_owed")
    return {"district": district, "coordinator": coordinator, "reasons": (owed, absent)}


def _person(apps: Any, district: Any, username: str, role: str) -> Any:
    return apps.get_model("accounts", "Person").objects.create(username=username, district=district, role=role)


def _school(apps: Any, ground: dict[str, Any], code: str) -> Any:
    building = apps.get_model("travel", "Building").objects.create(
        district=ground["district"], code=code, name=f"School {code}"
    )
    bells = apps.get_model("schedule", "BellSchedule").objects.create(building=building, name="Regular")
    day = {"name": "1", "start": dt.time(8), "end": dt.time(15)}
    apps.get_model("schedule", "BellPeriod").objects.create(schedule=bells, **day)
    return building


def _student(apps: Any, ground: dict[str, Any], code: str, school: Any, teacher: Any, **values: str) -> Any:
    student = apps.get_model("caseload", "Student").objects.create(
        district=ground["district"],
        building=school,
        caseload_teacher=teacher,
        code=code,
        first_name="Generated",
        last_name=f"Student {code}",
        **{"grade": "3", **values},
    )
    apps.get_model("caseload", "Plan").objects.create(student=student, start=FIRST, end=LAST)
    return student


def _line(apps: Any, student: Any, teacher: Any, statement: str, **values: Any) -> Any:
    model = apps.get_model("caseload", "ServiceLine")
    read = read_frequency(statement)
    parts = {name: getattr(read, name) for name in PARTS}
    row = {"start": FIRST, "end": LAST, "largest_group": 8, **values, **parts}
    return model.objects.create(plan=student.plans.get(), provider=teacher, statement=statement, **row)


def _log(apps: Any, ground: dict[str, Any], lines: list[Any], teacher: Any) -> None:
    """Each week as many sessions as the service counts: one in seven missed, one in eleven corrected."""
    entry, version = apps.get_model("caseload", "DeliveryEntry"), apps.get_model("caseload", "DeliveryVersion")
    entries: list[Any] = []
    versions: list[Any] = []
    for week in range(WEEKS):
        for line in lines:
            for time in range(min(line.times or 1, 5)):
                day = COUNTED + dt.timedelta(weeks=week, days=time)
                number = len(entries)
                corrected = number % 11 == 0
                entries.append(
                    entry(
                        client_id=uuid4(),
                        service_line=line,
                        student_id=line.plan.student_id,
                        date=day,
                        start=dt.time(9),
                        planned_minutes=line.minutes or 30,
                        setting=line.setting,
                        version=2 if corrected else 1,
                        revision=2 if corrected else 1,
                    )
                )
                versions += _versions(version, ground, entries[-1], teacher, number, corrected=corrected)
    entry.objects.bulk_create(entries, BATCH)
    for row in versions:
        row.entry_id = row.entry.pk
    version.objects.bulk_create(versions, BATCH)


def _versions(
    version: Any, ground: dict[str, Any], entry: Any, teacher: Any, number: int, *, corrected: bool
) -> list[Any]:
    missed = number % 7 == 0
    reason = ground["reasons"][number % 2] if missed else None
    first = version(
        entry=entry,
        number=1,
        delivered_minutes=0 if missed else entry.planned_minutes,
        reason=reason,
        note="As it was said",
        logged_by=teacher,
    )
    if not corrected:
        return [first]
    half = {"delivered_minutes": entry.planned_minutes // 2, "reason": ground["reasons"][0]}
    return [first, version(entry=entry, number=2, logged_by=ground["coordinator"], **half)]


def _miles(apps: Any, ground: dict[str, Any], teacher: Any, schools: list[Any]) -> None:
    """A month of trips, its voucher as submitted, and what the district says of miles."""
    get, district = apps.get_model, ground["district"]
    own = {"district": district, "teacher": teacher}
    if not get("travel", "MileageRate").objects.exists():
        get("travel", "MileageRate").objects.create(
            district=district, first_day=dt.date(2026, 1, 1), dollars=Decimal("0.7000"), source="Board"
        )
    home = get("travel", "TeacherHome").objects.create(commute_miles=Decimal("6.0"), **own)
    home.regular_places.add(schools[0])
    voucher = get("travel", "Voucher").objects.create(
        month=COUNTED.replace(day=1),
        status="submitted",
        submitted_by=teacher,
        submitted_at=dt.datetime(2026, 10, 1, 12, tzinfo=dt.UTC),
        rules="As they were.",
        **own,
    )
    for at in range(10):
        day, miles = COUNTED + dt.timedelta(days=at), Decimal("4.0") + at
        key = f"{day:%Y%m%d}-{schools[0].pk}-{schools[1].pk}-1"
        get("travel", "Trip").objects.create(
            key=key, date=day, origin=schools[0], destination=schools[1], direct_miles=miles, **own
        )
        get("travel", "VoucherLine").objects.create(
            voucher=voucher,
            position=at,
            key=key,
            date=day,
            origin=schools[0].name,
            destination=schools[1].name,
            direct_miles=miles,
            miles=miles,
            rate=Decimal("0.7000"),
            amount=miles * Decimal("0.7"),
            parking_and_tolls=Decimal(0),
            rule="Between two places of work",
        )


# ---- figures ---------------------------------------------------------------------------------------------


def figures_before(apps: Any) -> dict[str, str]:
    """From the rows alone: what weekly services owe in four whole weeks in session, minutes, dollars."""
    lines = apps.get_model("caseload", "ServiceLine").objects.filter(
        unit="week", weeks_on=None, times__gt=0, start__lte=COUNTED, end__gte=AS_OF, service_type="direct"
    )
    owed = sum(line.times * line.minutes * WEEKS for line in lines)
    versions = apps.get_model("caseload", "DeliveryVersion").objects.filter(number=F("entry__version"))
    trips = sum(one.direct_miles for one in apps.get_model("travel", "Trip").objects.all()) * Decimal("0.7")
    return {
        "minutes owed": str(owed),
        "minutes delivered": str(versions.aggregate(sum=Sum("delivered_minutes"))["sum"]),
        "dollars on vouchers": _dollars(apps.get_model("travel", "VoucherLine").objects.all()),
        "dollars of trips": f"{trips:.2f}",
        **{name: _texts(apps.get_model("caseload", "Student"), "code", name) for name in ("supports", "cautions")},
    }


def _texts(table: Any, code: str, text: str) -> str:
    """How many say something, and a digest of who says what: all of it read by a person may be long."""
    told = sorted(table.objects.exclude(**{text: ""}).values_list(code, text))
    return f"{len(told)}, {hashlib.sha256(repr(told).encode()).hexdigest()[:12]}"


def _dollars(rows: Any) -> str:
    return f"{rows.aggregate(sum=Sum('amount'))['sum']:.2f}"


def figures_after() -> dict[str, str]:
    """The same by the program as it is now."""
    district = District.objects.get()
    weekly = set(
        ServiceLine.objects.filter(
            unit="week", weeks_on=None, times__gt=0, start__lte=COUNTED, end__gte=AS_OF, service_type="direct"
        ).values_list("pk", flat=True)
    )
    owed = sum(
        one.figures.owed
        for some in _chunks(district)
        for student in ledgers_of(district, some, AS_OF)
        for one in student.lines
        if one.line.pk in weekly
    )
    claims = [one.dollars for one in trip_claims(district).values()]
    return {
        "minutes owed": str(owed),
        "minutes delivered": str(DeliveryVersion.objects.current().aggregate(sum=Sum("delivered_minutes"))["sum"]),
        "dollars on vouchers": _dollars(VoucherLine.objects.all()),
        "dollars of trips": f"{sum(one for one in claims if one is not None):.2f}",
        "supports": _texts(Support, "student__code", "text"),
        "cautions": _texts(Caution, "student__code", "text"),
    }


def _chunks(district: District) -> Iterable[list[Student]]:
    rows = list(Student.objects.filter(district=district).select_related("building__district").order_by("pk"))
    return (rows[at : at + 250] for at in range(0, len(rows), 250))


def made_since() -> dict[str, int]:
    """What the migrations make beside the rows of then, and of what there must be as many."""
    return {
        "services": ContinuingService.objects.count(),
        "lines": ServiceLine.objects.count(),
        "lines without a service": ServiceLine.objects.filter(service=None).count(),
        "enrollments": Enrollment.objects.count(),
        "students": Student.objects.count(),
        "teachers": Person.objects.filter(role=Person.Role.TEACHER).count(),
    }
