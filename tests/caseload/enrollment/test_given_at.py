"""A service that is given at a program elsewhere: on its form, on the student's page, through the API."""

import datetime as dt
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.plans.models import Enrollment, ServiceLine, StudentHold
from caseload.plans.services import enrollment_save, hold_save, student_move
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import SHORT_PERIODS, YEAR_START, make_bells, make_ground

FROM = dt.date(2026, 10, 5)


def enter_program(cast: Cast) -> None:
    """Mornings at South from October 5, beside North."""
    values = {"building": cast.south, "grade": "3", "first_day": FROM}
    enrollment_save(actor=cast.teacher, row=Enrollment(student=cast.student, is_program=True), values=values)


def send(client: Client, address: str, values: dict[str, Any]) -> str:
    """Post a form, once more where it shows what it changes; the page after it in words."""
    answer = client.post(address, values, follow=True)
    if answer.context is not None and "effects_seen" in answer.context:
        seen = answer.context["effects_seen"]
        answer = client.post(address, {**values, "effects_seen": seen}, follow=True)
    return unescape(answer.content.decode())


def test_the_form_asks_where_only_of_who_is_at_two_places(cast: Cast) -> None:
    """Before the program is entered there is nothing to choose."""
    client = signed_in(cast.teacher)
    address = reverse("service_change", args=[cast.line.pk])
    assert 'name="building"' not in client.get(address).content.decode()
    enter_program(cast)
    page = unescape(client.get(address).content.decode())
    assert "At the student's school" in page
    offered = client.get(address).context["form"].fields["building"].queryset
    assert {one.pk for one in offered} == {cast.north.pk, cast.south.pk}


def test_a_service_goes_to_the_program_from_a_day_and_back(cast: Cast) -> None:
    """The student's page says where, of the version before too; empty means at the school again."""
    make_ground(cast)
    enter_program(cast)
    client = signed_in(cast.teacher)
    address = reverse("service_change", args=[cast.line.pk])
    form = {name: value for name, value in client.get(address).context["form"].initial.items() if value is not None}
    page = send(client, address, {**form, "from_day": FROM.isoformat(), "building": cast.south.pk, "seen": 1})
    assert f"at {cast.south}" in page
    assert "at the student\N{RIGHT SINGLE QUOTATION MARK}s school" in page
    before, after = ServiceLine.objects.order_by("start")
    assert (before.building, after.building, after.start) == (None, cast.south, FROM)
    back = {**form, "from_day": "2026-11-02", "building": "", "seen": 2}
    send(client, reverse("service_change", args=[after.pk]), back)
    assert [one.building for one in ServiceLine.objects.order_by("start")] == [None, cast.south, None]


def test_the_api_says_and_changes_where(cast: Cast) -> None:
    """As a term like the others; a building where the student isn't is refused at the field."""
    api = Api(cast.teacher)
    body = {"from_day": FROM.isoformat(), "building": cast.south.pk, "revision": 1}
    refused = api.post(f"service-lines/{cast.line.pk}/change/", expect=400, **body)
    assert "isn't enrolled in this building" in refused["fields"]["building"][0]
    enter_program(cast)
    changed = api.post(f"service-lines/{cast.line.pk}/change/", expect=200, **body)
    assert (changed["building"], changed["start"]) == (cast.south.pk, FROM.isoformat())
    assert api.get(f"service-lines/{cast.line.pk}/")["building"] is None


def test_a_service_fits_the_periods_of_where_it_is_given(cast: Cast) -> None:
    """South's classes last 30 minutes, North's 45: 40 minutes don't fit at South from October 5."""
    make_ground(cast)
    cast.south.bell_schedules.all().delete()
    make_bells(cast.south, periods=SHORT_PERIODS)
    enter_program(cast)
    body = {"from_day": FROM.isoformat(), "revision": 1, "statement": "2 x 40 min/week"}
    change = f"service-lines/{cast.line.pk}/change/"
    refused = Api(cast.teacher).post(change, expect=400, building=cast.south.pk, **body)
    assert "longer than any period at South" in refused["fields"]["statement"][0]
    assert Api(cast.teacher).post(change, expect=200, **body)["minutes"] == 40


def test_a_hold_names_a_period_of_where_the_student_is_then(cast: Cast) -> None:
    """From the move on it is South's; before it North's, whatever the record shows today."""
    make_ground(cast)
    make_bells(cast.south, name="Blocks", periods=(("Block A", "8:30", "9:30", "instruction", ""),))
    student_move(actor=cast.teacher, student=cast.student, from_day=FROM, values={"building": cast.south})
    later = {"period": "Block A", "first_day": FROM}
    saved = hold_save(actor=cast.teacher, row=StudentHold(student=cast.student), values=later)
    assert saved.pk is not None
    early = {"student": cast.student.pk, "reason": "core", "period": "Block A", "first_day": YEAR_START.isoformat()}
    refused = Api(cast.teacher).post("holds/", expect=400, last_day="2026-09-30", **early)
    assert "isn't a period at North" in refused["fields"]["period"][0]


def test_the_student_list_shows_school_and_program_of_today(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """And finds the student under both, from the program's first day on; what each service is read as beside it."""
    enter_program(cast)
    client = signed_in(cast.coordinator)
    for day, found in ((FROM - dt.timedelta(days=1), False), (FROM, True)):
        monkeypatch.setattr("caseload.plans.pages.students.today_of", lambda viewer, day=day: day)
        page = client.get(reverse("student_list"), {"building": cast.south.pk}).content.decode()
        assert ("S01" in page) is found
    page = client.get(reverse("student_list"), {"building": cast.north.pk}).content.decode()
    assert page.count("S01") == 1
    assert "Program" in page
    assert "Read as 2 x 30 = 60 minutes a week" in page
