"""A closed month keeps the calendar that its minutes were counted by. Common practice, no source."""

import datetime as dt
from collections.abc import Callable

import pytest

from accounts.errors import ApplicationError
from caseload.delivery.told import Outcome
from caseload.plans.models import Enrollment, stays_of
from caseload.plans.services.enrollments import enrollment_save, enrollment_take_back, student_leave, student_move
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground
from tests.schedule.closing.test_closing import close, code_of, sign
from tests.schedule.log_builders import log_line


@pytest.fixture
def closed(cast: Cast) -> Cast:
    """September is signed and closed; the student has moved on September 21 already."""
    make_ground(cast)
    log_line(cast, date(0), outcome=Outcome(reason="medical"))
    student_move(actor=cast.teacher, student=cast.student, from_day=date(7), values={"building": cast.south})
    sign(cast)
    close(cast)
    return cast


def test_a_change_of_a_closed_month_is_refused_with_the_way_to_reopen_it(closed: Cast) -> None:
    """A move into it, one taken back, a last day in it, the other building for all its days."""
    before = stays_of(closed.student)
    moved = Enrollment.objects.get(student=closed.student, building=closed.south)
    refused: list[Callable[[], object]] = [
        lambda: student_move(
            actor=closed.teacher, student=closed.student, from_day=date(9), values={"building": closed.north}
        ),
        lambda: enrollment_take_back(actor=closed.teacher, row=moved),
        lambda: student_leave(actor=closed.teacher, student=closed.student, last_day=date(10)),
        lambda: enrollment_save(actor=closed.teacher, row=moved, values={"building": closed.north}),
    ]
    assert [code_of(act) for act in refused] == ["month_closed"] * len(refused)
    with pytest.raises(ApplicationError, match="A coordinator can reopen it"):
        refused[0]()
    closed.student.refresh_from_db()
    assert stays_of(closed.student) == before


def test_what_comes_later_is_free(closed: Cast) -> None:
    """A move in October, and who left in October; a class and a grade count for no minute."""
    october = dt.date(2026, 10, 5)
    student_move(actor=closed.teacher, student=closed.student, from_day=october, values={"building": closed.north})
    student_leave(actor=closed.teacher, student=closed.student, last_day=dt.date(2026, 10, 30))
    first = Enrollment.objects.get(student=closed.student, first_day=None)
    enrollment_save(actor=closed.teacher, row=first, values={"grade": "4", "home_class": closed.room4})
