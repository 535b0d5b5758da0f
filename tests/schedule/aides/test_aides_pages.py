"""An aide's hours by the page and by the API: given, refused, changed from a day on, taken back."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.test import Client

from accounts.errors import ApplicationError
from caseload.care.models import Contact, Support
from caseload.care.services import contact_remove
from schedule.aides.models import AideHours
from schedule.calendar.models import DayRotation
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.builders import make_ground


@pytest.fixture
def orel(cast: Cast) -> Contact:
    """S01's own aide."""
    make_ground(cast)
    return Contact.objects.create(student=cast.student, role="aide", name="Ms. Orel", phone="555 0142")


def signed_in(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.teacher)
    return client


def test_hours_are_given_followed_by_others_and_taken_back(cast: Cast, orel: Contact) -> None:
    client, today = signed_in(cast), date_there()
    later = today + dt.timedelta(days=30)
    page = client.get("/aides/").text
    assert "No hours given: planned as if there all day." in page
    assert "supports say that this aide is needed" in page
    Support.objects.create(student=cast.student, kind="aide", text="One aide")
    add = f"/contacts/{orel.pk}/hours/new/"
    client.post(add, {"first_day": today.isoformat(), "times": "mon-thu 8:00-11:30"})
    page = client.post(add, {"first_day": later.isoformat(), "times": "Mon-Thu 12:30-3:00"}, follow=True).text
    assert f"Needed by {cast.student.full_name}" in page
    assert "<strong>Now:</strong> mon-thu 8:00 to 11:30" in page
    assert f"<strong>From {later:%B} {later.day}, {later.year}:</strong> Mon-Thu 12:30 to 3:00" in page
    seen = page.split('name="seen" value="')[1].split('"')[0]
    page = client.post(f"/contacts/{orel.pk}/hours/take-back/", {"seen": seen}, follow=True).text
    assert "Taken back." in page
    assert [one.first_day for one in AideHours.objects.all()] == [today]
    page = client.post(f"/contacts/{orel.pk}/hours/take-back/", {"seen": seen}, follow=True).text
    assert "There is no change to take back here" in page


def test_hours_that_were_deleted_are_there_again(cast: Cast, orel: Contact) -> None:
    client = signed_in(cast)
    row = AideHours.objects.create(contact=orel, first_day=date_there(), times="8:00 to 11:30")
    asked = client.get(f"/aides/hours/{row.pk}/delete/").text
    assert "Ms. Orel: 8:00 to 11:30" in asked
    client.post(f"/aides/hours/{row.pk}/delete/")
    assert not AideHours.objects.exists()
    client.post(f"/contacts/{orel.pk}/hours/take-back/")
    again = AideHours.objects.get()
    assert (again.contact, again.first_day, again.times) == (orel, row.first_day, "8:00 to 11:30")


def test_who_needs_an_aide_where_none_is_named_is_told(cast: Cast, orel: Contact) -> None:
    orel.delete()
    Support.objects.create(student=cast.student, kind="aide", text="One aide")
    page = signed_in(cast).get("/aides/").text
    assert "Needs an aide, and none is named." in page
    assert cast.student.full_name in page
    stranger = Client()
    stranger.force_login(cast.stranger)
    assert cast.student.full_name not in stranger.get("/aides/").text


@pytest.mark.parametrize(
    ("times", "told"),
    [
        ("mornings", "can&#x27;t be read"),
        ("Mon 11:30 to 8:00", "ends before it begins"),
        ("Mno 8:00 to 11:30", "isn&#x27;t a day at North Hollow School"),
        ("Day 7 8:00 to 11:30", "isn&#x27;t a day at North Hollow School"),
    ],
)
def test_hours_that_cannot_be_read_are_refused(cast: Cast, orel: Contact, times: str, told: str) -> None:
    DayRotation.objects.create(building=cast.north, kind="cycle", length=6, anchor_date=date_there())
    answer = signed_in(cast).post(
        f"/contacts/{orel.pk}/hours/new/", {"first_day": date_there().isoformat(), "times": times}
    )
    assert told in answer.text
    assert not AideHours.objects.exists()


def test_the_api_does_what_the_page_does(cast: Cast, orel: Contact) -> None:
    api = Api(cast.teacher)
    row = api.post("aide-hours/", contact=orel.pk, first_day="2026-09-14", times="Day 3 8:00-9:00", expect=400)
    assert "isn't a day" in str(row["fields"]["times"])
    row = api.post("aide-hours/", contact=orel.pk, first_day="2026-09-14", times="Mon 8:00-9:00; Tue 1:00-2:00")
    assert row["times"] == "Mon 8:00 to 9:00; Tue 1:00 to 2:00"
    again = api.post("aide-hours/", contact=orel.pk, first_day="2026-09-14", times="", expect=400)
    assert "Hours from this day are there already" in str(again)
    assert api.patch(f"aide-hours/{row['id']}/", times="")["times"] == ""
    api.post(f"contacts/{orel.pk}/hours/undo/", expect=204)
    assert api.get(f"aide-hours/?contact={orel.pk}")["results"][0]["times"] == row["times"]
    assert api.post(f"contacts/{orel.pk}/hours/undo/", expect=409)["code"] == "nothing_to_undo"
    Api(cast.mate).get(f"aide-hours/{row['id']}/", expect=404)
    Api(cast.mate).post(f"contacts/{orel.pk}/hours/undo/", expect=404)
    nurse = Contact.objects.create(student=cast.student, role="nurse", name="R. Orre", phone="555 0144")
    refused = api.post("aide-hours/", contact=nurse.pk, first_day="2026-09-14", times="", expect=400)
    assert "Only an aide among the contacts has hours here." in str(refused)


def test_an_aide_with_hours_is_not_deleted_by_the_way(cast: Cast, orel: Contact) -> None:
    """Deleted hours could not be brought back with the contact. Who leaves has no hours from a day on."""
    AideHours.objects.create(contact=orel, first_day=date_there(), times="")
    with pytest.raises(ApplicationError) as refused:
        contact_remove(actor=cast.teacher, row=orel)
    assert "hours" in refused.value.message
    with transaction.atomic(), pytest.raises((ProtectedError, IntegrityError)):
        Contact.objects.filter(pk=orel.pk).delete()
