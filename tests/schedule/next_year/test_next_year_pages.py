"""Pages and API of the coming year."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client

from caseload.plans.models import Enrollment, SchoolClass, ServiceLine
from schedule.next_year.models import NextYear, NextYearDay, NextYearStudent
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.long_steps.work import steps_done
from tests.schedule.next_year.ground import FIRST, LAST, begin, make_spring, say_all


@pytest.fixture
def lines(cast: Cast) -> dict[str, ServiceLine]:
    """The district in spring; the tests' clock is before the first day of the coming year."""
    return make_spring(cast)


@pytest.fixture
def coordinator(cast: Cast, client: Client) -> Client:
    """Signed in as the coordinator."""
    client.force_login(cast.coordinator)
    return client


def text_of(answer: Any) -> str:
    """The page's words."""
    return str(answer.content.decode())


def test_it_is_begun_on_the_page_with_the_days_that_it_proposes(
    coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    page = text_of(coordinator.get("/next-year/"))
    assert "2027-08-31" in page
    assert "2027-28" in page
    answer = coordinator.post("/next-year/", {"name": "2027-28", "first_day": FIRST, "last_day": LAST})
    row = NextYear.objects.get()
    assert answer["Location"] == f"/next-year/{row.pk}/"
    page = text_of(coordinator.get(f"/next-year/{row.pk}/"))
    assert "North Hollow School" in page
    assert "Thanksgiving" in page
    assert "<h2>Begin it</h2>" not in text_of(coordinator.get("/next-year/"))


def test_what_cannot_be_begun_is_said_at_the_form(coordinator: Client, lines: dict[str, ServiceLine]) -> None:
    values = {"name": "2027-28", "first_day": "2027-06-01", "last_day": LAST}
    answer = coordinator.post("/next-year/", values)
    assert answer.status_code == 422
    assert "Choose a day after it" in text_of(answer)


def test_without_a_school_year_there_is_nothing_to_copy(coordinator: Client) -> None:
    assert "There is no school year to copy yet" in text_of(coordinator.get("/next-year/"))


def test_a_special_day_is_kept_or_left_out_by_one_press(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    day = begin(cast).days.get()
    for answer in ("kept", "left_out"):
        coordinator.post(f"/next-year/days/{day.pk}/answer/", {"answer": answer})
        assert NextYearDay.objects.get().answer == answer


def form_of(page: Any) -> dict[str, Any]:
    """What the building's form begins with, as a browser would send it."""
    form = page.context["form"]
    found = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in found.items() if value not in {None, False, ""}}


def test_a_building_is_said_and_its_students(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    row = begin(cast)
    address = f"/next-year/{row.pk}/buildings/{cast.north.pk}/"
    page = coordinator.get(address)
    assert "Which building?" in text_of(page)
    third, fifth = (lines[name].plan.student.pk for name in ("third", "fifth"))
    values = {**form_of(page), "next_building": cast.south.pk, "bells_stay": "on", f"student-{third}-what": "again"}
    assert coordinator.post(address, values)["Location"] == address
    page = coordinator.get(address)
    assert "Which building?" not in text_of(page)
    assert "Grade 6 at South Hollow School" in text_of(page)
    assert NextYearStudent.objects.get().student_id == third
    arriving = coordinator.get(f"/next-year/{row.pk}/buildings/{cast.south.pk}/")
    assert f"student-{fifth}" in text_of(arriving)
    assert not Enrollment.objects.filter(first_day__isnull=False).exists()


def test_a_student_is_sent_to_a_building_that_is_named(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    row = begin(cast)
    address = f"/next-year/{row.pk}/buildings/{cast.north.pk}/"
    third = lines["third"].plan.student.pk
    values = {**form_of(coordinator.get(address)), f"student-{third}-what": f"at-{cast.south.pk}"}
    coordinator.post(address, values)
    said = NextYearStudent.objects.get()
    assert (said.student_id, said.building_id, said.choice) == (third, cast.south.pk, "goes_on")
    again = form_of(coordinator.get(address))
    assert again[f"student-{third}-what"] == f"at-{cast.south.pk}"


def test_what_the_page_cannot_say_stays_as_it_was_said(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    """The same grade again at another building, said by the API, when only the class is chosen on the page."""
    row = begin(cast)
    third = lines["third"].plan.student.pk
    NextYearStudent.objects.create(next_year=row, student_id=third, choice="again", building=cast.south)
    room = SchoolClass.objects.create(building=cast.south, code="M1", name="Room M1")
    address = f"/next-year/{row.pk}/buildings/{cast.north.pk}/"
    page = coordinator.get(address)
    assert "As said: Grade 3 at South Hollow School" in text_of(page)
    values = {**form_of(page), f"student-{third}-class": room.pk}
    assert coordinator.post(address, values)["Location"] == address
    said = NextYearStudent.objects.get()
    assert (said.choice, said.building, said.home_class) == ("again", cast.south, room)


def test_what_is_missing_leads_to_names(cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]) -> None:
    row = begin(cast)
    page = text_of(coordinator.get(f"/next-year/{row.pk}/missing/"))
    assert "said whether they leave" in page
    assert "Quernmore-T12, Ilsabet" in page
    assert "No physical education time" in page


def test_it_is_started_and_taken_back_on_the_page(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    row = begin(cast)
    address = f"/next-year/{row.pk}/start/"
    assert "be started yet.</strong>" in text_of(coordinator.get(address))
    say_all(cast, row, lines)
    page = text_of(coordinator.get(address))
    assert "1 goes from North Hollow School to South Hollow School" in page
    assert "Nothing is written yet" in page
    coordinator.post(address)
    steps_done()
    assert Enrollment.objects.filter(first_day=FIRST).count() == 4
    page = text_of(coordinator.get(f"/next-year/{row.pk}/"))
    assert "Take it back" in page
    coordinator.post(f"/next-year/{row.pk}/take-back/")
    steps_done()
    assert not Enrollment.objects.filter(first_day=FIRST).exists()


def started_page(coordinator: Client, row: NextYear) -> str:
    """What the page of starting says once a worker has been at it."""
    address = coordinator.post(f"/next-year/{row.pk}/start/")["Location"]
    steps_done()
    return text_of(coordinator.get(address))


def test_who_cannot_go_over_is_named_on_the_page(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    row = begin(cast)
    say_all(cast, row, lines)
    line = lines["fifth"]
    type(line.plan).objects.filter(pk=line.plan_id).update(end=LAST)
    ServiceLine.objects.filter(pk=line.pk).update(setting="push_in", pushed_into=cast.room4, end=LAST)
    page = started_page(coordinator, row)
    assert "Choose the class at the new school" in page
    assert "Ilsabet Quernmore-T5" in page


def test_what_the_calendar_refuses_is_said_on_the_page(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    """The draft's own forms keep special days short; one with a kind that isn't there comes from elsewhere."""
    row = begin(cast)
    say_all(cast, row, lines)
    row.days.update(answer="kept", kind="gone")
    page = started_page(coordinator, row)
    assert "<strong>Nothing is written.</strong>" in page
    assert "is not a valid choice" in page  # django.core.validators, in the words of Django
    assert not Enrollment.objects.filter(first_day=FIRST).exists()


def test_the_api_says_what_it_is_given_and_nothing_else(cast: Cast, lines: dict[str, ServiceLine]) -> None:
    """A class keeps what isn't said of it, and nothing goes over into a year that is started."""
    api = Api(cast.coordinator)
    row = begin(cast)
    room = SchoolClass.objects.get(code="RM5")
    made = api.post("next-year-classes/", next_year=row.pk, school_class=room.pk, grades="3,4,5")
    assert (made["grades"], made["class_teacher"]) == ("3,4,5", "Ms. Oake")
    say_all(cast, row, lines)
    api.post(f"next-years/{row.pk}/start/", 202)
    steps_done()
    other = begin(cast, name="2028-29", first_day=dt.date(2028, 8, 29), last_day=dt.date(2029, 6, 15))
    said = api.post("next-year-classes/", next_year=other.pk, school_class=cast.room4.pk)
    assert api.patch(f"next-year-classes/{said['id']}/", 409, next_year=row.pk)["code"] == "already_started"


def test_the_api_does_what_the_pages_do(cast: Cast, lines: dict[str, ServiceLine]) -> None:
    api = Api(cast.coordinator)
    made = api.post("next-years/", name="2027-28", first_day=str(FIRST), last_day=str(LAST))
    pk = made["id"]
    standing = api.get(f"next-years/{pk}/standing/")
    north = next(one for one in standing["buildings"] if one["building"] == cast.north.pk)
    assert north["highest_grade"] == "5"
    (day,) = api.get("next-year-days/", next_year=pk)["results"]
    api.patch(f"next-year-days/{day['id']}/", answer="kept")
    api.post("next-year-buildings/", next_year=pk, building=cast.north.pk, next_building=cast.south.pk)
    for name, choice in (("eighth", "again"), ("twelfth", "leaves")):
        api.post("next-year-students/", next_year=pk, student=lines[name].plan.student_id, choice=choice)
    told = api.post(f"next-years/{pk}/effects/", 200)
    assert (told["leaving"], told["days"], told["refused"]) == (1, 1, "")
    step = api.post(f"next-years/{pk}/start/", 202)
    assert (step["state"], step["parts"]) == ("waits", 6)
    steps_done()
    assert api.get(f"steps/{step['step_id']}/")["state"] == "done"
    assert api.get(f"next-years/{pk}/")["started_at"]
    assert api.patch(f"next-year-days/{day['id']}/", 409, answer="asked")["code"] == "already_started"
    api.post(f"next-years/{pk}/take-back/", 202)
    steps_done()
    assert api.get(f"next-years/{pk}/")["started_at"] is None
    api.delete(f"next-years/{pk}/")
    assert not NextYear.objects.exists()


def test_a_season_outside_the_year_is_not_copied(
    cast: Cast, coordinator: Client, lines: dict[str, ServiceLine]
) -> None:
    Api(cast.coordinator).post(
        "school-years/",
        name="Summer",
        first_day=str(dt.date(2027, 6, 28)),
        last_day=str(dt.date(2027, 7, 30)),
        extended=True,
    )
    assert "Copied from 2026-27" in text_of(coordinator.get("/next-year/"))
