"""A table's checks are asked of the database once for the same values, and never taken for held when they don't."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.validation import row_validate
from caseload.plans.models import Student
from tests.conftest import Cast, make_student

FIRST = dt.date(2031, 3, 3)
BEFORE, AFTER = FIRST - dt.timedelta(days=1), FIRST + dt.timedelta(days=1)


def asked(student: Student) -> int:
    """How many statements validating a row takes."""
    with CaptureQueriesContext(connection) as found:
        row_validate(student)
    return len(found)


def stays(student: Student, first: dt.date | None, last: dt.date | None) -> Student:
    student.first_day, student.last_day = first, last
    return student


def test_the_same_values_are_asked_about_once(cast: Cast) -> None:
    """The second student's days are as the first one's: one question less, and no answer of another's days."""
    mate = make_student(cast.district, cast.north, cast.teacher, "Q9")
    for student in (cast.student, mate):
        row_validate(stays(student, None, None))  # what they point to is read
    new = asked(stays(cast.student, FIRST, AFTER))
    again = asked(stays(cast.student, FIRST, AFTER))
    assert again < new
    assert asked(stays(mate, FIRST, AFTER)) == again


def test_broken_checks_are_found_each_time_between_those_that_hold(cast: Cast) -> None:
    for _ in range(3):
        row_validate(stays(cast.student, FIRST, AFTER))
        with pytest.raises(ValidationError) as refused:
            row_validate(stays(cast.student, FIRST, BEFORE))
        assert "last_day" in refused.value.error_dict
        row_validate(stays(cast.student, FIRST, None))
