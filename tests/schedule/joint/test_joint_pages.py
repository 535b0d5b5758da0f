"""Joint sessions said by the page and by the API: given, refused, ended, taken back."""

import datetime as dt

import pytest
from django.test import Client

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.joint.models import JointService
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.weeks.planning.two_teachers import also_served_by


@pytest.fixture
def theirs(cast: Cast) -> ServiceLine:
    """The mate's line for S01, who is on the teacher's caseload."""
    return also_served_by(cast.mate, cast.student)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_it_is_said_on_the_students_page_and_taken_back(cast: Cast, theirs: ServiceLine) -> None:
    client, day = signed_in(cast.teacher), dt.date(2026, 10, 5)
    students_page = f"/students/{cast.student.pk}/"
    add = f"/services/{cast.line.pk}/together/new/"
    assert add in client.get(students_page).text
    form = client.get(add).text
    assert "2 x 30 min/week with Mate Vey" in form
    assert f'<option value="{cast.line.service_id}"' not in form
    values = {"partner": theirs.service_id, "times_a_week": 1, "first_day": day.isoformat()}
    shown = client.post(add, values, follow=True).text
    assert "1 session a week, from October 5, 2026 on" in shown
    assert "2 x 30 min/week with Teacher Vey and 2 x 30 min/week with Mate Vey" in shown
    row = JointService.objects.get()
    assert (row.service, row.partner, row.times_a_week) == (cast.line.service, theirs.service, 1)
    # The mate gives one of the two services, so it is theirs to change as well.
    change = f"/joint-sessions/{row.pk}/change/"
    ended = {"partner": theirs.service_id, "first_day": day.isoformat(), "last_day": "2027-01-29"}
    shown = signed_in(cast.mate).post(change, ended, follow=True).text
    assert "each session that both have, from October 5, 2026 to January 29, 2027" in shown
    seen = client.get(students_page).text.split("joint-sessions/take-back/")[1].split('name="seen" value="')[1]
    client.post(f"{students_page}joint-sessions/take-back/", {"seen": seen.split('"')[0]})
    row.refresh_from_db()
    assert (row.times_a_week, row.last_day) == (1, None)


def test_what_was_removed_is_there_again(cast: Cast, theirs: ServiceLine) -> None:
    client = signed_in(cast.teacher)
    row = JointService.objects.create(service=cast.line.service, partner=theirs.service, first_day=date_there())
    assert "Mate Vey" in client.get(f"/joint-sessions/{row.pk}/delete/").text
    client.post(f"/joint-sessions/{row.pk}/delete/")
    assert not JointService.objects.exists()
    client.post(f"/students/{cast.student.pk}/joint-sessions/take-back/")
    again = JointService.objects.get()
    assert (again.service, again.partner, again.times_a_week) == (row.service, row.partner, None)


def test_services_that_do_not_go_together_are_refused(cast: Cast, theirs: ServiceLine) -> None:
    api, day = Api(cast.teacher), "2026-10-05"

    def refused(partner: int, **values: object) -> str:
        given = {"service": cast.line.service_id, "partner": partner, "first_day": day, **values}
        return str(api.post("joint-services/", expect=400, **given)["fields"])

    assert "Choose the other teacher's service." in refused(cast.line.service_id)
    ServiceLine.objects.filter(pk=theirs.pk).update(minutes=45)
    assert "One has 30 minutes a session, the other 45." in refused(theirs.service_id)
    ServiceLine.objects.filter(pk=theirs.pk).update(minutes=30, service_type="consultation")
    assert "One is a consultation, which is held without the student" in refused(theirs.service_id)
    ServiceLine.objects.filter(pk=theirs.pk).update(service_type="direct", provider=cast.teacher)
    assert "Teacher Vey gives both." in refused(theirs.service_id)
    ServiceLine.objects.filter(pk=theirs.pk).update(provider=cast.mate)
    other = also_served_by_mate_elsewhere(cast)
    assert "does not exist" in refused(other.service_id)
    assert "before the first" in refused(theirs.service_id, last_day="2026-10-04")
    assert not JointService.objects.exists()


def also_served_by_mate_elsewhere(cast: Cast) -> ServiceLine:
    """A service of the mate's own student, whom the teacher doesn't see."""
    plan = cast.mates_student.plans.create(start=cast.plan.start, end=cast.plan.end)
    return ServiceLine.objects.create(
        plan=plan, provider=cast.mate, statement="1 x 30", times=1, minutes=30, start=plan.start, end=plan.end
    )


def test_the_same_two_are_said_once_at_a_time(cast: Cast, theirs: ServiceLine) -> None:
    api = Api(cast.teacher)
    pair = {"service": cast.line.service_id, "partner": theirs.service_id}
    other_way = {"service": theirs.service_id, "partner": cast.line.service_id}
    api.post("joint-services/", first_day="2026-10-05", last_day="2026-12-18", **pair)
    told = api.post("joint-services/", first_day="2026-12-18", expect=400, **other_way)["fields"]
    assert "This is said already for some of these days." in str(told)
    row = api.post("joint-services/", first_day="2026-12-19", **other_way)
    assert api.get(f"joint-services/?student={cast.student.pk}")["count"] == 2
    api.post(f"students/{cast.student.pk}/joint-services/undo/", expect=204)
    api.get(f"joint-services/{row['id']}/", expect=404)
    assert Api(cast.stranger).get("joint-services/")["count"] == 0


def test_nothing_is_offered_where_one_teacher_gives_all(cast: Cast) -> None:
    assert "Given together" not in signed_in(cast.teacher).get(f"/students/{cast.student.pk}/").text
