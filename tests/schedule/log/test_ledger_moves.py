"""A student who moves, is away, or is at two places: each day counts by the calendar of its own building.

Rule and figures are reckoned by hand from docs/minutes-ledger.md; the short week in proportion is that of N.J.S.A.
18A:35-8 (“proportionately less when holidays fall within the week”).
"""

import datetime as dt
from typing import Any

import pytest

from caseload.delivery.services.rules import ledger_settings_save
from caseload.ledger.figures import MinuteFigures
from caseload.plans.models import Enrollment, Student
from caseload.plans.services import service_line_save
from caseload.plans.services.enrollments import enrollment_save, student_leave, student_move
from schedule.log.selectors.ledger import student_ledger
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_cycle, make_entry, make_ground
from tests.schedule.log_builders import log_session, publish_session

FRIDAY = date(4)
WEEK = dt.timedelta(days=7)
MOVE = MONDAY + WEEK


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """S01 owes 2 x 30 a week from September 1, 2026, counted from then on, short weeks in proportion."""
    make_ground(cast)
    ledger_settings_save(
        actor=cast.coordinator, values={"short_week": "proportion", "counts_from": dt.date(2026, 9, 14)}
    )
    return cast


def move(cast: Cast, day: dt.date = MOVE, **values: Any) -> Enrollment:
    """To South."""
    return student_move(
        actor=cast.teacher, student=cast.student, from_day=day, values={"building": cast.south, **values}
    )


def weeks(cast: Cast, as_of: dt.date) -> list[tuple[int, int]]:
    """Owed and delivered of each period."""
    (line,) = student_ledger(cast.teacher, Student.objects.get(pk=cast.student.pk), as_of).lines
    assert line.problem == ""
    return [(one.owed, one.delivered) for one in line.ledger.periods]  # type: ignore[union-attr]  # no problem


def test_a_move_leaves_owed_and_delivered_as_they_were(ground: Cast) -> None:
    """Two sessions of 30 in the first week: 60 owed, 60 delivered, whatever school comes next.

    North is closed on one day of each week: 4 of 5 days are 48 minutes; South is open.
    """
    for offset in (0, 2):
        log_session(ground.teacher, publish_session(date(offset), [ground.line]))
    make_entry(ground, date(3), "closed", ground.north)
    make_entry(ground, date(3) + WEEK, "closed", ground.north)
    assert weeks(ground, FRIDAY + WEEK) == [(48, 60), (48, 0)]
    move(ground)
    assert weeks(ground, FRIDAY + WEEK) == [(48, 60), (60, 0)]


def test_a_week_of_two_schools_goes_day_by_day(ground: Cast) -> None:
    """Two days in North, then South; North closes on Tuesday and Thursday, South on Monday: one day less."""
    move(ground, date(2))
    for day, building in ((date(1), ground.north), (date(3), ground.north), (date(0), ground.south)):
        make_entry(ground, day, "closed", building)
    assert weeks(ground, FRIDAY) == [(48, 0)]


def test_time_away_owes_nothing(ground: Cast) -> None:
    """Gone after Tuesday, back two weeks later on the Thursday: 24 minutes, no middle week, 24 minutes."""
    student_leave(actor=ground.teacher, student=ground.student, last_day=date(1))
    back = {"building": ground.north, "grade": "3", "first_day": date(3) + 2 * WEEK}
    enrollment_save(actor=ground.teacher, row=Enrollment(student=ground.student), values=back)
    assert weeks(ground, FRIDAY + 2 * WEEK) == [(24, 0), (24, 0)]


def test_a_service_at_a_program_counts_by_the_programs_calendar(ground: Cast) -> None:
    """Only the service that names it, and only as long as it lasts."""
    program = {"building": ground.south, "grade": "3", "first_day": MONDAY, "last_day": FRIDAY}
    enrollment_save(actor=ground.teacher, row=Enrollment(student=ground.student, is_program=True), values=program)
    for day in (date(3), date(3) + WEEK):
        make_entry(ground, day, "closed", ground.south)
    assert weeks(ground, FRIDAY + WEEK) == [(60, 0), (60, 0)]
    service_line_save(actor=ground.teacher, row=ground.line, values={"building": ground.south})
    assert weeks(ground, FRIDAY + WEEK) == [(48, 0), (60, 0)]


def test_a_turn_in_which_the_student_moves_is_finished_by_the_old_schools_days(ground: Cast) -> None:
    """Six-day turns in both schools, South's two days later: the turns that begin while the student is there.

    North's begin on September 14 and 22, South's on September 16 and 24; the move is on September 23.
    """
    make_cycle(ground.north)
    make_cycle(ground.south, first=date(2))
    service_line_save(actor=ground.teacher, row=ground.line, values={"statement": "1 x 30 min per 6-day cycle"})
    move(ground, dt.date(2026, 9, 23))
    (line,) = student_ledger(ground.teacher, Student.objects.get(pk=ground.student.pk), dt.date(2026, 10, 1)).lines
    assert line.ledger is not None, line.problem
    spans = [(one.span.first, one.span.last, one.owed) for one in line.ledger.periods]
    assert spans[:3] == [
        (dt.date(2026, 9, 14), dt.date(2026, 9, 21), 30),
        (dt.date(2026, 9, 22), dt.date(2026, 9, 23), 30),
        (dt.date(2026, 9, 24), dt.date(2026, 10, 1), 30),
    ]


def test_the_service_and_the_figures_of_the_whole_stay_one(ground: Cast) -> None:
    """One line for the person, before and after."""
    move(ground, date(2))
    sunday = date(6)
    found = student_ledger(ground.teacher, Student.objects.get(pk=ground.student.pk), sunday)
    assert [one.line for one in found.lines] == [ground.line]
    assert found.direct == MinuteFigures(owed=60, behind=60)
