"""The page that leads with who needs attention first: its rows, their order, and who may see them."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.dates import date_words
from accounts.errors import ApplicationError
from caseload.delivery.told import Outcome
from caseload.plans.models import Plan, ServiceLine
from caseload.plans.services import service_change
from schedule.attention.pages import grouped
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.forecast import line_outlooks, teacher_ledgers
from schedule.attention.selectors.rows import Kind
from schedule.calendar.models import MarkingPeriod, SchoolYear
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.log_builders import log_session, publish_session

SATURDAY = date(5)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """A school year, and only the lines that a test makes."""
    make_ground(cast)
    cast.line.delete()
    return cast


def test_each_thing_that_waits_has_its_row_and_behind_comes_first(ground: Cast) -> None:
    """One student behind, one undecided, one not logged."""
    behind, undecided, unlogged = (make_line(ground, code) for code in ("A1", "B1", "C1"))
    reasons = {behind.pk: "assembly", undecided.pk: "medical"}
    for number, line in enumerate((behind, undecided, unlogged)):
        session = publish_session(date(0), [line], f"{9 + number}:00", f"{9 + number}:30")
        if line.pk in reasons:
            log_session(ground.teacher, session, {line.pk: Outcome(reason=reasons[line.pk])})
    found = attention(ground.teacher, ground.teacher, SATURDAY)
    first = [(row.kind, row.student.code if row.student else "") for row in found.rows[:3]]
    assert first == [(Kind.BEHIND, "A1"), (Kind.UNDECIDED, "B1"), (Kind.UNLOGGED, "")]
    assert found.rows[0].minutes == 30
    assert found.rows[1].entry_id is not None
    assert all("Quernmore" not in row.words for row in found.rows)


def test_a_week_that_holds_too_little_will_be_behind(ground: Cast) -> None:
    """2 x 30 a week owed, one session in force and held: each coming week leaves 30 open."""
    line = make_line(ground, "A1", statement="2 x 30 min/week", times=2)
    log_session(ground.teacher, publish_session(date(0), [line]))
    [row] = attention(ground.teacher, ground.teacher, date(0)).of(Kind.SHORT)
    assert row.line_id == line.pk
    assert row.minutes > 30 * 30
    assert "short" in row.words


def test_plans_that_end_reviews_and_report_dates_are_ahead(ground: Cast) -> None:
    """60 days for a plan without a successor; one with a successor is left out."""
    ending, followed = make_line(ground, "A1"), make_line(ground, "B1")
    for line in (ending, followed):
        line.end = line.plan.end = date(40)
        line.plan.annual_review = date(50) if line is ending else None
        line.save()
        line.plan.save()
    Plan.objects.create(student=followed.plan.student, start=date(41), end=date(200))
    year = SchoolYear.objects.get()
    MarkingPeriod.objects.create(
        district=ground.district, school_year=year, name="First", first_day=date(-10), last_day=date(10)
    )
    found = attention(ground.teacher, ground.teacher, SATURDAY)
    assert [row.student and row.student.code for row in found.of(Kind.PLAN_ENDS)] == ["A1"]
    assert [row.due for row in found.of(Kind.REVIEW)] == [date(50)]
    assert "2 students" in found.of(Kind.REPORT)[0].words


def test_goals_without_data_are_listed_by_class(ground: Cast) -> None:
    """After the district's days, with the oldest; goals that nobody has said how to measure aren't among them."""
    student = make_line(ground, "A1").plan.student
    student.home_class = ground.room4
    student.save()
    dates = {"start": date(-60), "end": date(200)}
    waits, fresh = make_goal(student, **dates), make_goal(student, **dates)
    make_goal(student, measure="", text="Enjoy moving.", **dates)
    make_goal(ground.mates_student, **dates)
    make_point(waits, date(-30), 2, ground.teacher)
    make_point(fresh, date(0), 2, ground.teacher)
    (row,) = attention(ground.teacher, ground.teacher, SATURDAY).of(Kind.NO_DATA)
    assert (
        row.words == f"Room 4, North Hollow School: 1 goal without data, the oldest since {date_words(date(-30))}."
    )
    assert (row.things, row.students) == (1, (student.pk,))
    make_point(waits, date(0), 2, ground.teacher)
    assert attention(ground.teacher, ground.teacher, SATURDAY).of(Kind.NO_DATA) == ()


def queries(cast: Cast) -> int:
    """How many queries the rows of the teacher take."""
    with CaptureQueriesContext(
        connection,
    ) as seen:
        attention(cast.teacher, cast.teacher, SATURDAY)
    return len(seen)


def test_the_number_of_queries_does_not_grow_with_students(ground: Cast) -> None:
    """Two students or nine, of this teacher or of others."""

    def add(code: str, start: dt.date) -> None:
        line = make_line(ground, code)
        log_session(ground.teacher, publish_session(start, [line]), {line.pk: Outcome(reason="medical")})

    add("A1", date(0))
    add("A2", date(1))
    queries(ground)  # the first look also reads once what the person who looks may do
    few = queries(ground)
    for number in range(7):
        add(f"B{number}", date(number % 5))
        make_line(ground, f"M{number}", teacher=ground.mate)
    assert queries(ground) == few


def test_only_the_teacher_and_the_coordinator_see_it(ground: Cast) -> None:
    """Everyone else finds no such teacher."""
    make_line(ground, "A1")
    assert attention(ground.coordinator, ground.teacher, SATURDAY).students == 1
    for person in (ground.mate, ground.stranger, ground.office, ground.substitute):
        with pytest.raises(ApplicationError) as refused:
            attention(person, ground.teacher, SATURDAY)
        assert refused.value.status == 404


def test_a_service_that_changes_is_looked_at_until_its_end_and_not_until_the_change(ground: Cast) -> None:
    """New terms hold from November 2: the outlook goes on to the last day of the service all the same."""
    line = make_line(ground, "A1", end=date(100))
    log_session(ground.teacher, publish_session(date(0), [line]))
    ends = line.end
    line.end = dt.date(2026, 11, 1)
    line.save()
    fields = {name: getattr(line, name) for name in ("statement", "times", "minutes", "setting", "largest_group")}
    more = ServiceLine(
        plan=line.plan, provider=line.provider, service=line.service, start=dt.date(2026, 11, 2), end=ends, **fields
    )
    more.save()
    [one] = line_outlooks(teacher_ledgers(ground.teacher, ground.teacher, SATURDAY))
    assert (one.last, [seen.until for seen in one.outlooks]) == (ends, [ends])


def test_a_badge_counts_the_sessions_that_wait(ground: Cast) -> None:
    """One row tells of two sessions that nobody logged; the badge beside its heading once said 1."""
    line = make_line(ground, "A1")
    for number in (0, 1):
        publish_session(date(number), [line])
    found = attention(ground.teacher, ground.teacher, SATURDAY)
    assert found.of(Kind.UNLOGGED)[0].words.startswith("2 sessions wait to be logged")
    assert [one.count for one in grouped(found, "") if one.label == "Not logged"] == [2]


def test_what_will_be_short_names_the_terms_that_are_counted(ground: Cast) -> None:
    """More from the second Monday on: minutes are those of both, and the row names both, not only today's."""
    line = make_line(ground, "A1")
    log_session(ground.teacher, publish_session(date(0), [line]))
    change = {"statement": "3 x 30 min/week"}
    service_change(actor=ground.teacher, row=line, from_day=date(7), values=change, seen=None)
    found = attention(ground.teacher, ground.teacher, date(1)).of(Kind.SHORT)
    assert {row.statement for row in found} == {f"{line.statement}, then 3 x 30 min/week"}
