"""A student's page says when the student usually is seen, and what waits for a usual time."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from caseload.plans.models import ServiceLine, Student
from schedule.terms.selectors.usual import usual_times
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import TimetableVersion
from tests.conftest import Cast, date_there
from tests.schedule.builders import MONDAY, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

BEFORE = MONDAY - dt.timedelta(days=3)
"""The Friday before the term."""


@pytest.fixture
def in_force(cast: Cast) -> ServiceLine:
    """Three weeks in force with S01 twice a week; a new service of somebody else begins in the second."""
    make_ground(cast)
    term_publish(actor=cast.teacher, term=planned(cast))
    return make_line(cast, "N1", start=MONDAY + WEEK)


def student_page(person: Person, student: Student) -> str:
    client = Client()
    client.force_login(person)
    return str(client.get(reverse("student_detail", args=[student.pk])).content.decode())


def test_a_student_has_the_times_of_the_timetable_in_force(cast: Cast, in_force: ServiceLine) -> None:
    times, without = usual_times(cast.teacher, cast.student, BEFORE)
    assert [(one.since, one.until, one.building_name) for one in times] == [
        (MONDAY, MONDAY + 3 * WEEK - dt.timedelta(days=3), "North Hollow School")
    ] * 2
    assert without == ()
    now, _ = usual_times(cast.teacher, cast.student, MONDAY + WEEK)
    assert [one.since for one in now] == [None, None]


def test_a_service_that_begins_later_waits_for_its_time(cast: Cast, in_force: ServiceLine) -> None:
    """From the week in which it begins; fitted in from then on, it has a time from that week on."""
    student = in_force.plan.student
    times, without = usual_times(cast.teacher, student, BEFORE)
    assert times == ()
    assert [(one.statement, one.since) for one in without] == [("1 x 30 min/week", MONDAY + WEEK)]

    again = planned(cast, weeks=2, first=MONDAY + WEEK)
    term_publish(actor=cast.teacher, term=again)
    times, without = usual_times(cast.teacher, student, BEFORE)
    assert [one.since for one in times] == [MONDAY + WEEK]
    assert without == ()

    term_take_back(actor=cast.teacher, term=again, today=BEFORE)
    times, without = usual_times(cast.teacher, student, BEFORE)
    assert (times, len(without)) == ((), 1)


def test_one_week_or_a_month_waits_for_nothing(cast: Cast, in_force: ServiceLine) -> None:
    student = in_force.plan.student
    ServiceLine.objects.filter(pk=in_force.pk).update(end=MONDAY + WEEK + dt.timedelta(days=4))
    assert usual_times(cast.teacher, student, BEFORE) == ((), ())
    ServiceLine.objects.filter(pk=in_force.pk).update(end=in_force.end, unit=ServiceLine.Unit.MONTH)
    assert usual_times(cast.teacher, student, BEFORE) == ((), ())


def test_only_timetables_that_the_viewer_may_see_are_told(cast: Cast, in_force: ServiceLine) -> None:
    """The coordinator sees the teacher's; another teacher and another district's coordinator see none."""
    assert len(usual_times(cast.coordinator, cast.student, BEFORE)[0]) == 2
    for other in (cast.mate, cast.stranger, cast.office):
        assert usual_times(other, cast.student, BEFORE) == ((), ())


@pytest.mark.usefixtures("in_force")
def test_the_page_leads_to_where_it_fits(cast: Cast) -> None:
    """Whoever plans is led to the term from the week in which the service begins; all moved to weeks to come."""
    first = date_there() + dt.timedelta(days=7 - date_there().weekday())
    last = first + 3 * WEEK - dt.timedelta(days=3)
    TimetableVersion.objects.update(first_day=first, last_day=last)
    ServiceLine.objects.filter(plan__student__code="N1").update(start=first + WEEK)
    text = student_page(cast.teacher, Student.objects.get(code="N1"))
    assert "1 x 30 min/week has no usual time" in text
    assert f"{reverse('term_plan')}?teacher={cast.teacher.pk}&amp;week={first + WEEK}" in text
    assert "See where it fits" not in student_page(cast.teacher, cast.student)
    assert student_page(cast.teacher, cast.student).count("One to one, from the week of") == 2
