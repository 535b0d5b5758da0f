"""Services that go on while their terms change: what a line belongs to, and the lines that were there before."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from caseload.plans.models import ContinuingService, ServiceLine
from caseload.plans.services import plan_delete, service_line_delete, service_line_save, student_delete
from tests.conftest import Cast

BEFORE = ("caseload", "0004_log_sendings")


def test_a_new_line_begins_a_service_of_its_own(cast: Cast) -> None:
    """Two lines of one plan are two services until somebody says that one continues the other."""
    values = {"statement": "1 x 45 min/week", "setting": "small_group", "largest_group": 3}
    line = service_line_save(actor=cast.teacher, row=ServiceLine(plan=cast.plan), values=values)
    assert line.service != cast.line.service
    assert {line.service.student, cast.line.service.student} == {cast.student}
    assert list(line.service.versions.all()) == [line]


def test_who_may_see_a_service(cast: Cast) -> None:
    """Those who may see its student, and nobody else."""
    seen = {
        person.username: ContinuingService.objects.visible_to(person).count()
        for person in (cast.teacher, cast.coordinator, cast.mate, cast.office, cast.stranger)
    }
    assert seen == {"teacher": 1, "coordinator": 1, "mate": 0, "office": 0, "stranger": 0}
    assert not ContinuingService.objects.visible_to(None).exists()


@pytest.mark.parametrize("what", ["line", "plan", "student"])
def test_a_service_without_versions_goes(cast: Cast, what: str) -> None:
    """Whichever of the three is deleted, no service stays behind."""
    if what == "line":
        service_line_delete(actor=cast.teacher, row=cast.line)
    elif what == "plan":
        plan_delete(actor=cast.teacher, row=cast.plan)
    else:
        student_delete(actor=cast.teacher, row=cast.student)
    assert not ContinuingService.objects.exists()


def test_a_service_goes_on_when_one_of_its_versions_is_deleted(cast: Cast) -> None:
    """The other version keeps it."""
    cast.line.end = dt.date(2026, 12, 6)
    cast.line.save()
    later = ServiceLine.objects.create(
        plan=cast.plan, service=cast.line.service, provider=cast.teacher, statement="3 x 30 min/week", times=3,
        minutes=30, start=dt.date(2026, 12, 7), end=cast.plan.end,
    )  # fmt: skip
    service_line_delete(actor=cast.teacher, row=later)
    assert list(cast.line.service.versions.all()) == [cast.line]


@pytest.mark.django_db(transaction=True)
def test_lines_that_were_there_get_a_service_each() -> None:
    """Migrated from before there were services: as many services as lines, each of its line's student."""
    executor = MigrationExecutor(connection)
    try:
        executor.migrate([BEFORE])
        _two_lines(executor.loader.project_state([BEFORE]).apps)
    finally:
        executor = MigrationExecutor(connection)
        executor.migrate(executor.loader.graph.leaf_nodes())
    lines = list(ServiceLine.objects.select_related("service", "plan"))
    assert len({line.service_id for line in lines}) == len(lines) == ContinuingService.objects.count() == 2
    assert all(line.service.student_id == line.plan.student_id for line in lines)


def _two_lines(apps: Any) -> None:
    """As they were saved before."""
    district = apps.get_model("accounts", "District").objects.create(name="Marrow Vale County")
    person = apps.get_model("accounts", "Person").objects.create(username="teacher", district=district)
    building = apps.get_model("travel", "Building").objects.create(district=district, code="N", name="North Hollow")
    for code in ("S01", "S02"):
        student = apps.get_model("caseload", "Student").objects.create(
            district=district, building=building, caseload_teacher=person, code=code, grade="3"
        )
        days = {"start": dt.date(2026, 9, 1), "end": dt.date(2027, 6, 18)}
        plan = apps.get_model("caseload", "Plan").objects.create(student=student, **days)
        apps.get_model("caseload", "ServiceLine").objects.create(
            plan=plan, provider=person, statement="2 x 30 min/week", times=2, minutes=30, **days
        )
