"""Scoping fails closed: every scoped model, everyone of the cast."""

import datetime as dt

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.db.models import Model

from accounts.models import Substitution
from accounts.models.scope import ScopedQuerySet
from caseload.plans.models import Plan, ServiceLine, Student
from tests.conftest import Cast
from travel.places.models import Building

SCOPED = [model for model in apps.get_models() if isinstance(model._default_manager.all(), ScopedQuerySet)]


def test_there_are_scoped_models() -> None:
    """The list that the next test walks isn't empty."""
    assert {Building, Student, Plan, ServiceLine} <= set(SCOPED)


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_a_stranger_and_nobody_see_nothing(cast: Cast, model: type[Model]) -> None:
    """Another district's coordinator sees at most what that district begins with; an anonymous visitor nothing."""
    rows = model._default_manager.all()
    assert isinstance(rows, ScopedQuerySet)
    assert {one.district for one in rows.visible_to(cast.stranger)} <= {cast.other_district}
    assert not rows.visible_to(AnonymousUser()).exists()


def test_each_role_sees_its_students(cast: Cast) -> None:
    """Teacher: own caseload. Coordinator: all. Office: none."""
    seen = {
        person.username: set(Student.objects.visible_to(person).values_list("code", flat=True))
        for person in (cast.teacher, cast.mate, cast.coordinator, cast.office, cast.substitute)
    }
    assert seen == {
        "teacher": {"S01"},
        "mate": {"S02"},
        "coordinator": {"S01", "S02"},
        "office": set(),
        "substitute": set(),
    }


def test_a_provider_of_one_line_sees_the_student(cast: Cast) -> None:
    """A teacher who serves one line of a team mate's student sees that student once."""
    ServiceLine.objects.create(
        plan=cast.plan,
        provider=cast.mate,
        statement="1 x 30 min/week",
        times=1,
        minutes=30,
        start=cast.plan.start,
        end=cast.plan.end,
    )
    assert list(Student.objects.visible_to(cast.mate).order_by("code")) == [cast.student, cast.mates_student]


def test_a_substitute_sees_the_caseload_only_while_covering(cast: Cast) -> None:
    """Cover from October 5 to 9: not the day before, not the day after."""
    Substitution.objects.create(
        substitute=cast.substitute,
        teacher=cast.teacher,
        first_date=dt.date(2026, 10, 5),
        last_date=dt.date(2026, 10, 9),
    )
    seen = [
        Student.objects.all().covered_by(cast.substitute, day).count()
        for day in (dt.date(2026, 10, 4), dt.date(2026, 10, 5), dt.date(2026, 10, 9), dt.date(2026, 10, 10))
    ]
    assert seen == [0, 1, 1, 0]


def test_an_office_sees_its_own_building(cast: Cast) -> None:
    """Only the building where the person works."""
    assert list(Building.objects.visible_to(cast.office)) == [cast.north]
    assert Building.objects.visible_to(cast.teacher).count() == 2


def test_the_code_stands_in_for_the_name(cast: Cast) -> None:
    """What lands in logs and error pages is the code."""
    assert str(cast.student) == "S01"
    assert "Tarn" not in repr(cast.student)
