"""What a last day ends is shown before it is saved, on the page and by the API. People and days are invented."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from accounts.models import Person
from caseload.plans.services import service_change
from schedule.weeks.services import ends
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line
from tests.schedule.log_builders import publish_session
from travel.places.models import Building

TUESDAY, WEDNESDAY = date(1), date(2)
OFF = "1 planned session is off, on September 16, 2026 (Teacher Vey 1)."


@pytest.fixture
def ground(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Cast:
    """It is Monday; one student on Monday and Wednesday, and on Wednesday one beside another student."""
    make_ground(cast)
    monkeypatch.setattr(ends, "today_of", lambda person: MONDAY)
    for day in (MONDAY, WEDNESDAY):
        publish_session(day, [cast.line])
    return cast


def asked(person: Person, address: str, **values: Any) -> tuple[list[str], str]:
    """The form as it stands with these values, sent once: the effects on the page, and the answer's text."""
    browser = signed_in(person)
    form = browser.get(address).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False, [])} | values
    answer = browser.post(address, sent)
    return list(answer.context["effects"]), answer.content.decode()


def test_a_buildings_last_day_says_which_sessions_go(ground: Cast) -> None:
    """The same by the API; neither saves it. Taking it back says that they take place."""
    address = reverse("building_change", args=[ground.north.pk])
    told, page = asked(ground.coordinator, address, last_day=TUESDAY.isoformat())
    assert told == [OFF]
    assert "Nothing is saved yet" in page
    api = Api(ground.coordinator)
    at = f"buildings/{ground.north.pk}/effects/"
    assert api.post(at, expect=200, last_day=TUESDAY.isoformat())["effects"] == [OFF]
    assert api.post(at, expect=200, last_day=WEDNESDAY.isoformat())["effects"] == []
    assert Building.objects.get(pk=ground.north.pk).last_day is None
    Building.objects.filter(pk=ground.north.pk).update(last_day=TUESDAY)
    back = "1 planned session takes place after all, on September 16, 2026 (Teacher Vey 1)."
    assert api.post(at, expect=200, last_day=None)["effects"] == [back]


def test_a_teachers_last_day_says_which_services_nobody_gives(ground: Cast) -> None:
    """By name, for whoever hands them over; a service that ends before is none of them, two versions one."""
    make_line(ground, "E1", start=MONDAY - dt.timedelta(days=7), end=TUESDAY)
    later = {"statement": "1 x 45 min/week"}
    service_change(actor=ground.teacher, row=ground.line, from_day=date(14), values=later, seen=None)
    unserved = (
        f"Nobody gives these services then: {ground.student.full_name}, {ground.line.statement}. Hand them over."
    )
    address = reverse("person_change", args=[ground.teacher.pk])
    told, _ = asked(ground.coordinator, address, last_day=TUESDAY.isoformat())
    assert told == [OFF, unserved]
    at = f"people/{ground.teacher.pk}/effects/"
    api = Api(ground.coordinator)
    assert api.post(at, expect=200, last_day=TUESDAY.isoformat())["effects"] == [OFF, unserved]
    assert Person.objects.get(pk=ground.teacher.pk).last_day is None
    Person.objects.filter(pk=ground.teacher.pk).update(last_day=TUESDAY)
    again = f"These services have their teacher again: {ground.student.full_name}, {ground.line.statement}."
    assert api.post(at, expect=200, last_day=None)["effects"][1:] == [again]
    Api(ground.teacher).post(at, expect=403, last_day=None)


def test_a_students_last_day_says_which_sessions_go(ground: Cast) -> None:
    """After the minutes, as for every change of a student's."""
    gone = "1 published session wouldn't take place anymore: Wednesday, September 16, 2026 at 8:30 AM."
    address = reverse("student_leave", args=[ground.student.pk])
    told, _ = asked(ground.teacher, address, last_day=TUESDAY.isoformat())
    assert told[-1] == gone
    body = {"student": ground.student.pk, "last_day": TUESDAY.isoformat()}
    assert Api(ground.teacher).post("enrollments/leave/effects/", expect=200, **body)["effects"][-1] == gone
    assert not ground.student.enrollments.exclude(last_day=None).exists()
