"""The page of what happened and its API: from Today in two taps, shown first, saved, taken back in one press."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import CalendarEntry, Happening
from schedule.happenings.services.foreseeing import happening_foresee
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at
from tests.schedule.day_builders import Day, make_day

pytestmark = pytest.mark.django_db
SUNDAY = MONDAY - dt.timedelta(days=1)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday at 6:40."""
    return make_day(cast, monkeypatch)


def client_of(person: Person) -> Client:
    """Signed in."""
    client = Client()
    client.force_login(person)
    return client


def test_ill_at_6_40(day: Day) -> None:
    """Two taps from Today; what it does; saved; on Today; taken back there in one press."""
    client = client_of(day.cast.teacher)
    assert reverse("happenings") in client.get(reverse("day")).content.decode()
    form = reverse("happening_new") + "?kind=away"
    assert form in client.get(reverse("happenings")).content.decode()
    assert f'value="{MONDAY}"' in client.get(form).content.decode()
    shown = client.post(form, {"kind": "away", "first_date": f"{MONDAY}"})
    text = shown.content.decode()
    assert (shown.status_code, Happening.objects.count()) == (200, 0)
    assert "4 sessions fall out" in text
    assert "stay owed, and wait to be made up" in text
    saved = client.post(form, {"kind": "away", "first_date": f"{MONDAY}", "save": "1"}, follow=True)
    row = Happening.objects.get()
    assert saved.redirect_chain[-1][0] == reverse("day_of", args=[MONDAY])
    assert "Leave home" not in saved.content.decode()
    log = client.get(reverse("log")).content.decode()
    assert (log.count("Teacher absent"), ">Undo" in log) == (5, False), "taken back where it was said, whole"
    back = client.post(reverse("happening_take_back", args=[row.pk]), {"day": "1"}, follow=True)
    assert "The days are as they were." in back.content.decode()
    assert "Leave home" in back.content.decode()


@pytest.mark.parametrize("kind", list(HappeningKind))
def test_each_kind_asks_for_what_it_needs(day: Day, kind: HappeningKind) -> None:
    """An empty form is answered in words, and nothing is saved; teachers say nothing of other teachers."""
    for person in (day.cast.teacher, day.cast.coordinator):
        client = client_of(person)
        assert client.get(reverse("happening_new"), {"kind": kind.value}).status_code == 200
        answer = client.post(reverse("happening_new"), {"kind": kind.value})
        assert answer.status_code == 422
        assert "Fill this in." in answer.content.decode() or "Choose one." in answer.content.decode()
        assert ("teacher" in answer.context["form"].fields) == (
            person == day.cast.coordinator
            and kind in {HappeningKind.AWAY, HappeningKind.LATE, HappeningKind.AIDE_MISSING}
        )
    assert not Happening.objects.exists()
    assert client.get(reverse("happening_new"), {"kind": "weather"}).status_code == 404


def test_what_it_does_is_told_before(day: Day) -> None:
    """South sends home at 10:15: 15 of 45 minutes are left, for two students; then a closed school."""
    values = {"kind": "early_dismissal", "first_date": MONDAY, "start": at("10:15")}
    found = happening_foresee(actor=day.cast.coordinator, values=values, buildings=[day.cast.south])
    (one,) = found.sessions
    assert (one.what, one.minutes, one.students) == ("shorter", 30, 2)
    assert found.entries == ("September 14, 2026 Early dismissal, South Hollow School",)
    assert found.told == ("Teacher Vey (itinerant teacher)",)
    closed = {"kind": "closed", "first_date": MONDAY}
    found = happening_foresee(actor=day.cast.teacher, values=closed, buildings=[day.cast.south])
    assert [(one.effect, one.minutes) for one in found.minutes] == [("not_owed", 90)]
    (drive,) = found.drives
    assert (drive.minutes_before, drive.before.count(","), drive.after.count(",")) == (65, 2, 1)
    assert "North Hollow School to West Hollow School" in drive.after
    assert not CalendarEntry.objects.exists()
    assert not Happening.objects.exists()


def test_a_students_name_in_the_note_is_asked_about(day: Day) -> None:
    """The note stands in the calendar and in every phone's; shown before it is saved."""
    sent = {"kind": "closed", "first_date": f"{MONDAY}", "note": "Ola's meeting"}
    page = client_of(day.cast.teacher).post(reverse("happening_new"), sent).content.decode()
    assert "“Ola” is the name of a student." in page
    page = client_of(day.cast.teacher).post(reverse("happening_new"), sent | {"note": "Ice"}).content.decode()
    assert "name of a student" not in page


def test_a_coordinator_says_that_every_school_is_closed(day: Day) -> None:
    """For a day ahead; the calendar shows it, and the list takes it back."""
    client = client_of(day.cast.coordinator)
    sent = {"kind": "closed", "first_date": f"{MONDAY + dt.timedelta(days=1)}", "note": "Snow", "save": "1"}
    client.post(reverse("happening_new"), sent)
    assert CalendarEntry.objects.get().title == "Snow"
    page = client.get(reverse("happenings")).content.decode()
    assert "every school" in page
    client.post(reverse("happening_take_back", args=[Happening.objects.get().pk]))
    assert not CalendarEntry.objects.exists()
    assert "Nothing: the days are as they were planned." in client.get(reverse("happenings")).content.decode()


def test_the_api_does_what_the_page_does(day: Day) -> None:
    """Effects, saving, the list, taking back; another teacher's isn't there."""
    api = Api(day.cast.teacher)
    told = api.post("happenings/effects/", expect=200, kind="away", first_date=f"{MONDAY}", start="11:30")
    assert [one["what"] for one in told["sessions"]] == ["out", "out"]
    made = api.post("happenings/", kind="away", first_date=f"{MONDAY}", start="11:30")
    assert (made["last_date"], made["teacher"]) == (f"{MONDAY}", day.cast.teacher.pk)
    assert [one["id"] for one in api.get("happenings/")["results"]] == [made["id"]]
    Api(day.cast.mate).post(f"happenings/{made['id']}/take-back/", expect=404)
    assert api.post(f"happenings/{made['id']}/take-back/", expect=200)["taken_back_by"] == day.cast.teacher.pk
    refused = api.post("happenings/", expect=400, kind="late", first_date=f"{MONDAY}")
    assert "minutes" in str(refused)
