"""A student who left long ago, with a rule by which the records are due."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django.db import connection

from caseload.plans.models import Enrollment, Plan, ServiceLine, Student
from caseload.retention.models import ErasureRun, ParentsWord, RetentionRule
from jobs.runner import run_job
from schedule.erasing.services.runs import erasure_confirm, erasure_list
from tests.conftest import Cast, date_there

LEFT_ON = dt.date(2019, 6, 20)


def keep_years(cast: Cast, kind: str = "students", years: int | None = 5, **values: Any) -> RetentionRule:
    """The district keeps records of a kind so many years, since long."""
    event = "left" if kind in {"students", "plans", "goals", "care", "contacts"} else "written"
    fields = {"counts_from": event, "first_day": dt.date(2015, 7, 1), "decided_by": "Board policy 4.2", **values}
    return RetentionRule.objects.create(district=cast.district, kind=kind, years=years, **fields)


def has_left(student: Student, last: dt.date = LEFT_ON) -> None:
    """The student's plan and stays were over by a day long ago."""
    first = last - dt.timedelta(days=280)
    Student.objects.filter(pk=student.pk).update(first_day=first, last_day=last)
    Enrollment.objects.filter(student=student).update(first_day=first, last_day=last)
    Plan.objects.filter(student=student).update(start=first, end=last)
    ServiceLine.objects.filter(plan__student=student).update(start=first, end=last)
    student.refresh_from_db()


def parents_said(student: Student, kind: str = "told") -> ParentsWord:
    """By letter, some days ago."""
    said = date_there() - dt.timedelta(days=40)
    return ParentsWord.objects.create(student=student, kind=kind, said_on=said, how="Letter, folder 12")


def listed(cast: Cast, **asked: Any) -> ErasureRun:
    """The coordinator's list."""
    return erasure_list(actor=cast.coordinator, **asked)


def erase(cast: Cast, run: ErasureRun) -> ErasureRun:
    """Confirm a list as it was shown, and let the background work be done."""
    confirmed = erasure_confirm(actor=cast.coordinator, run=run, digest=run.digest)
    assert confirmed.job_id is not None
    assert run_job(confirmed.job_id)
    confirmed.refresh_from_db()
    return confirmed


def everything_stored() -> Iterator[tuple[str, str]]:
    """Each value of each column of each table, as the database has it, with the table's name."""
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608 -- a name from the catalog
            for row in cursor.fetchall():
                for value in row:
                    yield table, _as_text(value)


def _as_text(value: object) -> str:
    if isinstance(value, bytes | memoryview):
        return bytes(value).decode("utf-8", "replace")
    return str(value)


def tables_with(*texts: str) -> dict[str, set[str]]:
    """Which tables hold any of these texts, in any column, whatever the case, also as JSON writes them in ASCII."""
    found: dict[str, set[str]] = {}
    wanted = {form.casefold(): one for one in texts for form in (one, one.encode("unicode_escape").decode())}
    for table, value in everything_stored():
        told = value.casefold()
        for form, one in wanted.items():
            if form in told:
                found.setdefault(table, set()).add(one)
    return found
