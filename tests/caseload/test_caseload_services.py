"""Saving students, plans, service lines and times when a student can't be taken."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold
from caseload.plans.services import (
    hold_save,
    plan_replace_provisional,
    plan_save,
    school_class_save,
    service_line_save,
    student_add_without_plan,
    student_delete,
    student_save,
)
from schedule.calendar.models import BellPeriod, BellSchedule
from tests.conftest import Cast
from travel.places.models import Space


def new_student(cast: Cast, **values: object) -> dict[str, object]:
    """Values of a student who comes mid-year."""
    return {
        "code": "S09",
        "first_name": "Ida",
        "last_name": "Brook",
        "grade": "4",
        "building": cast.north,
        "first_day": dt.date(2026, 11, 9),
        **values,
    }


def bells(cast: Cast) -> None:
    """North: two periods, the longer one of 42 minutes."""
    schedule = BellSchedule.objects.create(building=cast.north, name="Regular")
    for name, start, end in (("P1", (9, 0), (9, 40)), ("P2", (9, 45), (10, 27))):
        BellPeriod.objects.create(schedule=schedule, name=name, start=dt.time(*start), end=dt.time(*end))


def test_a_statement_is_read_into_the_line(cast: Cast) -> None:
    """90 minutes a month: no count, minutes in all; the dates and the provider are the plan's."""
    line = service_line_save(
        actor=cast.teacher,
        row=ServiceLine(plan=cast.plan),
        values={"statement": "90 min/month", "setting": "small_group", "start": None, "end": None},
    )
    line.refresh_from_db()
    assert (line.times, line.minutes, line.minutes_total, line.unit) == (None, None, 90, "month")
    assert (line.start, line.end, line.provider) == (cast.plan.start, cast.plan.end, cast.teacher)


@pytest.mark.parametrize(
    "statement", ["as needed", "biweekly 30 min", "", "2x/week", "1x per cycle, 45 min", "1 x 2 min/week"]
)
def test_a_statement_that_cannot_be_read_stands_at_its_field(cast: Cast, statement: str) -> None:
    """With examples to write it by, and together with what else is wrong."""
    with pytest.raises(ValidationError) as caught:
        service_line_save(
            actor=cast.teacher,
            row=ServiceLine(plan=cast.plan),
            values={"statement": statement, "end": dt.date(2027, 9, 1)},
        )
    problems = caught.value.message_dict
    assert set(problems) == {"statement", "start"}
    assert "min/" in problems["statement"][0]


def test_minutes_longer_than_any_period(cast: Cast) -> None:
    """42 minutes fit the longest period, 43 don't; consultation takes no student out of class."""
    bells(cast)
    service_line_save(actor=cast.teacher, row=cast.line, values={"statement": "1 x 42 min/week"})
    with pytest.raises(ValidationError) as caught:
        service_line_save(actor=cast.teacher, row=cast.line, values={"statement": "1 x 43 min/week"})
    assert "P2 with 42 minutes" in caught.value.message_dict["statement"][0]
    service_line_save(
        actor=cast.teacher,
        row=ServiceLine(plan=cast.plan),
        values={"statement": "1 x 60 min/month", "service_type": "consultation"},
    )


def test_a_student_without_a_plan_gets_a_provisional_one(cast: Cast) -> None:
    """34 CFR 300.323(e): services like those before until the plan is there; here to the end of June."""
    student = student_add_without_plan(
        actor=cast.teacher, row=Student(), values=new_student(cast, statement="2 x 30 min/week")
    )
    plan = student.plans.get()
    line = plan.lines.get()
    assert student.caseload_teacher == cast.teacher
    assert plan.is_provisional
    assert (plan.start, plan.end) == (dt.date(2026, 11, 9), dt.date(2027, 6, 30))
    assert (line.times, line.minutes, line.start, line.end) == (2, 30, plan.start, plan.end)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"statement": "some"}, "statement"),
        ({"statement": "2 x 30 min/week", "plan_end": dt.date(2026, 11, 1)}, "plan_end"),
        ({"statement": "2 x 30 min/week", "building": None}, "building"),
        ({"statement": "2 x 30 min/week", "first_day": None}, "plan_start"),
    ],
)
def test_nothing_is_saved_of_a_student_whose_service_is_wrong(
    cast: Cast, values: dict[str, object], field: str
) -> None:
    """All or nothing: no student without the service that was asked for."""
    with pytest.raises(ValidationError) as caught:
        student_add_without_plan(actor=cast.teacher, row=Student(), values=new_student(cast, **values))
    assert field in caught.value.message_dict
    assert Student.objects.count() == 2


def test_the_plan_that_comes_ends_the_provisional_one(cast: Cast) -> None:
    """The day before it starts, lines included; nothing is owed twice."""
    student = student_add_without_plan(
        actor=cast.teacher, row=Student(), values=new_student(cast, statement="2 x 30 min/week")
    )
    plan = plan_replace_provisional(
        actor=cast.teacher,
        row=Plan(student=student),
        values={"start": dt.date(2026, 12, 1), "end": dt.date(2027, 11, 30)},
    )
    old = student.plans.get(status=Plan.Status.PROVISIONAL)
    assert plan.status == Plan.Status.IN_FORCE
    assert (old.end, old.lines.get().end) == (dt.date(2026, 11, 30), dt.date(2026, 11, 30))
    again = student_add_without_plan(
        actor=cast.teacher, row=Student(), values=new_student(cast, code="S10", statement="90 min/month")
    )
    plan_replace_provisional(
        actor=cast.teacher,
        row=Plan(student=again),
        values={"start": dt.date(2026, 11, 9), "end": dt.date(2027, 11, 8)},
    )
    assert [plan.status for plan in again.plans.all()] == [Plan.Status.IN_FORCE]


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"start": dt.date(2027, 6, 1), "end": dt.date(2028, 5, 31)}, "start"),
        ({"start": dt.date(2027, 9, 1), "end": dt.date(2027, 8, 1)}, "end"),
        ({"start": None, "end": dt.date(2028, 8, 1)}, "start"),
    ],
)
def test_plans_do_not_overlap_or_run_backwards(cast: Cast, values: dict[str, object], field: str) -> None:
    """A plan that ends before it begins, one on top of another, one without a start."""
    with pytest.raises(ValidationError) as caught:
        plan_save(actor=cast.teacher, row=Plan(student=cast.student), values=values)
    assert list(caught.value.message_dict) == [field]


def test_a_plan_does_not_shrink_away_from_under_its_services(cast: Cast) -> None:
    """The message names the service and its end."""
    with pytest.raises(ValidationError) as caught:
        plan_save(actor=cast.teacher, row=cast.plan, values={"end": dt.date(2027, 1, 31)})
    assert "2 x 30 min/week" in caught.value.message_dict["end"][0]


def test_a_student_moves_only_with_the_services(cast: Cast) -> None:
    """A pushed-in service ties a student to the building of the class."""
    service_line_save(
        actor=cast.teacher,
        row=cast.line,
        values={"setting": "push_in", "pushed_into": cast.room4, "largest_group": 3},
    )
    with pytest.raises(ValidationError) as caught:
        student_save(
            actor=cast.teacher, row=cast.student, values={"building": cast.south, "from_day": dt.date(2026, 12, 7)}
        )
    assert list(caught.value.message_dict) == ["home_class"]
    with pytest.raises(ValidationError) as moved:
        school_class_save(actor=cast.teacher, row=cast.room4, values={"building": cast.south})
    assert "pushed-in services" in moved.value.message_dict["building"][0]


def test_spaces_and_classes_of_others_are_not_listed(cast: Cast) -> None:
    """A space in another building is refused; one in another district looks as if it weren't there."""
    pool = Space.objects.create(building=cast.south, name="Pool", kind="pool")
    with pytest.raises(ValidationError) as caught:
        service_line_save(actor=cast.teacher, row=cast.line, values={"allowed_spaces": [pool]})
    assert "South Hollow" in caught.value.message_dict["allowed_spaces"][0]
    with pytest.raises(ValidationError) as provider:
        service_line_save(actor=cast.teacher, row=cast.line, values={"provider": cast.stranger})
    assert "provider" in provider.value.message_dict
    with pytest.raises(ValidationError) as role:
        service_line_save(actor=cast.teacher, row=cast.line, values={"provider": cast.office})
    assert "a teacher" in role.value.message_dict["provider"][0]


@pytest.mark.parametrize("name", ["mate", "stranger", "office", "substitute"])
def test_nobody_else_changes_a_student(cast: Cast, name: str) -> None:
    """404 for those who may write but don't see the student, 403 for those who don't write."""
    person = getattr(cast, name)
    expected = 403 if name in {"office", "substitute"} else 404
    calls: list[Callable[[], object]] = [
        lambda: student_save(actor=person, row=cast.student, values={"grade": "5"}),
        lambda: student_delete(actor=person, row=cast.student),
        lambda: plan_save(actor=person, row=cast.plan, values={"note": "x"}),
        lambda: service_line_save(actor=person, row=cast.line, values={"statement": "1 x 30 min/week"}),
        lambda: hold_save(actor=person, row=StudentHold(student=cast.student), values={"period": "P1"}),
    ]
    for call in calls:
        with pytest.raises(ApplicationError) as caught:
            call()
        assert caught.value.status == expected


def test_a_hold_names_a_period_and_days_of_the_building(cast: Cast) -> None:
    """Otherwise it would hold nothing, and nobody would notice."""
    bells(cast)
    hold_save(actor=cast.teacher, row=StudentHold(student=cast.student), values={"period": "p1", "days": "Mon,Wed"})
    with pytest.raises(ValidationError) as caught:
        hold_save(
            actor=cast.teacher, row=StudentHold(student=cast.student), values={"period": "P7", "days": "Day 3"}
        )
    problems = caught.value.message_dict
    assert set(problems) == {"period", "days"}
    assert "P1, P2" in problems["period"][0]


def test_a_self_contained_class_needs_its_ratio(cast: Cast) -> None:
    """The problem stands at the ratio."""
    with pytest.raises(ValidationError) as caught:
        school_class_save(
            actor=cast.teacher,
            row=SchoolClass(building=cast.north),
            values={"code": "RM9", "name": "Room 9", "kind": "self_contained"},
        )
    assert list(caught.value.message_dict) == ["ratio"]


def test_a_year_that_cannot_be_right_is_named_at_its_field(cast: Cast) -> None:
    """0206 for 2026: it would pass as a date."""
    with pytest.raises(ValidationError) as caught:
        plan_save(
            actor=cast.teacher,
            row=Plan(student=cast.student),
            values={"start": dt.date(206, 9, 1), "end": dt.date(2028, 6, 18)},
        )
    assert caught.value.message_dict == {"start": ["The year 206 can't be right. Check the date."]}
