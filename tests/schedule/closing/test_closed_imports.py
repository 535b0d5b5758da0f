"""Closed months hold moves of students, imports, and the taking back of imports, as every other change."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.services.enrollments import enrollment_take_back, student_leave, student_move
from schedule.closing.services import month_close
from schedule.imports.services.tables import import_commit, import_undo
from tests.conftest import Cast
from tests.schedule.builders import date
from tests.schedule.imports.district import ALL, commit_all, dump_database, preview, problems
from tests.schedule.log_builders import evening_of

SEPTEMBER, OCTOBER = dt.date(2026, 9, 1), dt.date(2026, 10, 1)
PLAIN = tuple(kind for kind in ALL if kind != "people")  # which a teacher may not bring
KINDS = PLAIN[: PLAIN.index("plans") + 1]


def close(cast: Cast, teacher: Person) -> None:
    """September, without a signature."""
    month_close(
        actor=cast.coordinator,
        teacher=teacher,
        month=SEPTEMBER,
        expected_revision=1,
        reason="Nobody signs",
        now=evening_of(dt.date(2026, 10, 2)),
    )


def refused(act: object) -> str:
    """The refusal's code."""
    assert callable(act)
    with pytest.raises(ApplicationError) as found:
        act()
    return found.value.code


def test_a_move_in_a_closed_month_is_refused_and_one_after_it_is_not(cast: Cast) -> None:
    """Where a student was decides which days were in session."""
    close(cast, cast.teacher)
    told = {"actor": cast.coordinator, "student": cast.student}
    values = {"building": cast.south}
    cast.line.allowed_spaces.clear()
    assert refused(lambda: student_move(from_day=date(2), values=values, **told)) == "month_closed"  # type: ignore[arg-type]
    assert refused(lambda: student_leave(last_day=date(4), **told)) == "month_closed"  # type: ignore[arg-type]
    row = student_move(from_day=OCTOBER, values=values, **told)  # type: ignore[arg-type]
    enrollment_take_back(actor=cast.coordinator, row=row)
    student_leave(last_day=dt.date(2026, 12, 18), **told)  # type: ignore[arg-type]


def test_an_import_that_changes_a_closed_month_is_a_problem_of_its_row(cast: Cast) -> None:
    """Named with the way to reopen; nothing is saved."""
    commit_all(cast.teacher, KINDS)
    close(cast, cast.teacher)
    before = list(ServiceLine.objects.order_by("pk").values())
    header, changed, *_ = ALL["plans"].replace("2 x 30 min/week", "3 x 30 min/week").splitlines()
    found = problems(preview(cast.teacher, "plans", f"{header},From\n{changed},2026-09-21\n"))
    assert found
    assert all("Months of the log" in one.message for one in found)
    assert list(ServiceLine.objects.order_by("pk").values()) == before


def test_an_import_that_was_looked_at_before_the_month_was_closed_is_checked_again(cast: Cast) -> None:
    """The preview was fine; in between the coordinator closed the month."""
    commit_all(cast.teacher, KINDS[:-1])
    batch = preview(cast.teacher, "plans", ALL["plans"])
    close(cast, cast.teacher)
    assert refused(lambda: import_commit(actor=cast.teacher, batch=batch)) == "import_has_problems"
    assert ServiceLine.objects.count() == 1, "the cast's own"


def test_an_import_of_a_closed_month_is_not_taken_back(cast: Cast) -> None:
    """Its rows owed minutes of September; all stays as it is."""
    *_, plans = commit_all(cast.teacher, KINDS)
    close(cast, cast.teacher)
    before = dump_database()
    assert refused(lambda: import_undo(actor=cast.teacher, batch=plans)) == "month_closed"
    assert dump_database() == before
