"""A substitute's packet: what stands in it, for whom, and links that end by themselves."""

import datetime as dt
import re
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from caseload.care.models import Caution, Contact, Support
from caseload.plans.models import Student
from schedule.packet.models import PacketLink, PacketView
from schedule.packet.selectors import link_opening, packet_of
from schedule.packet.services import packet_link_make, packet_link_stop
from schedule.stations.choices import RotationChoices
from schedule.stations.models import Station
from schedule.stations.services import rotation_make, station_save
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day
from travel.places.models import Building

pytestmark = pytest.mark.django_db

NEW_YORK = ZoneInfo("America/New_York")
FRIDAY_BEFORE = dt.datetime(2026, 9, 11, 18, 0, tzinfo=NEW_YORK)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday: a student with a caution and steps, one with a support, contacts, and the way in."""
    made = make_day(cast, monkeypatch)
    made.clock("7:00")
    seizures = Student.objects.get(code="F1")
    Caution.objects.create(
        student=seizures, text="Seizures", emergency_steps="Note the time.\nCall the nurse.", decides="The nurse"
    )
    Support.objects.create(student=Student.objects.get(code="F2"), text="Picture cards")
    for role, name in (("nurse", "Runa Orre"), ("parent", "M. Quernmore")):
        Contact.objects.create(student=seizures, role=role, name=name, phone="555-0142")
    Building.objects.filter(district=cast.district).update(parking="Lot behind the gym", door="Door 4")
    return made


def made_link(day: Day, **values: object) -> tuple[PacketLink, str]:
    """A link of the teacher's to the Monday, made on the Friday before."""
    options = {"first": MONDAY, "last": MONDAY, "label": "Sub on Monday", "now": FRIDAY_BEFORE, **values}
    return packet_link_make(actor=day.cast.teacher, teacher=day.cast.teacher, **options)  # type: ignore[arg-type]  # as above


def read(browser: Client, address: str, *, press: bool = False) -> str:
    """A page as it is read."""
    answer = browser.post(address) if press else browser.get(address)
    return unescape(answer.content.decode())


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    browser = Client()
    browser.force_login(person)
    return browser


def test_a_packet_holds_what_a_substitute_needs(day: Day) -> None:
    """Cautions with steps and who decides, the day, the way in, contacts; parents are the office's to reach."""
    packet = packet_of(day.cast.teacher, day.cast.teacher, MONDAY, MONDAY)
    assert [one.care.cautions for one in packet.cautioned] == ["Seizures"]
    assert packet.ask_first.startswith("Ask before this activity")
    assert [one.sheet.date for one in packet.days] == [MONDAY]
    assert {one.parking for one in packet.places} == {"Lot behind the gym"}
    assert [one.name for one in packet.contacts] == ["Runa Orre"]
    assert packet_of(day.cast.teacher, day.cast.teacher, MONDAY - dt.timedelta(days=2), MONDAY).days == packet.days


@pytest.mark.parametrize("who", ["teacher", "coordinator", "substitute"])
def test_the_page_for_whoever_signs_in(day: Day, who: str) -> None:
    """The substitute reads it while covering, and makes no links."""
    Substitution.objects.create(
        substitute=day.cast.substitute, teacher=day.cast.teacher, first_date=MONDAY, last_date=MONDAY
    )
    address = f"{reverse('packet')}?teacher={day.cast.teacher.pk}&first={MONDAY}&last={MONDAY}"
    page = read(signed_in(getattr(day.cast, who)), address)
    for text in ("Seizures", "Note the time.", "The nurse", "Picture cards", "Lot behind the gym", "Runa Orre"):
        assert text in page, text
    assert ("Make a link" in page) == (who != "substitute")
    assert "M. Quernmore" not in page


def test_a_link_shows_nothing_before_it_is_pressed_and_records_each_opening(day: Day) -> None:
    """A program that looks at links sees no student and is no view; a press opens it without a sign-in."""
    link, secret = made_link(day)
    address, browser = reverse("packet_open", args=[secret]), Client()
    before = browser.get(address)
    text = before.content.decode()
    assert "Open the packet" in text
    assert not any(one in text for one in ("Seizures", "Quernmore", "Tarn", "Runa"))
    assert (before["Referrer-Policy"], "no-store" in before["Cache-Control"]) == ("same-origin", True)
    assert not PacketView.objects.exists()
    page = read(browser, address, press=True)
    assert "Seizures" in page
    assert "Note the time." in page
    assert "/students/" not in page
    assert PacketView.objects.get().link == link


def test_stations_stand_in_the_packet(day: Day) -> None:
    """Who is where, round by round, for whoever signs in and behind a link, which needs no sign-in."""
    Substitution.objects.create(
        substitute=day.cast.substitute, teacher=day.cast.teacher, first_date=MONDAY, last_date=dt.date(2090, 1, 1)
    )
    for code, name in (("F1", "Ada"), ("F2", "Ben")):
        Student.objects.filter(code=code).update(first_name=name, last_name="Tarn")
    address = f"{reverse('packet')}?teacher={day.cast.teacher.pk}&first={MONDAY}&last={MONDAY}"
    assert "at which station" not in read(signed_in(day.cast.teacher), address)
    beam = station_save(actor=day.cast.teacher, row=Station(), values={"name": "Low beam", "at_a_time": 2})
    uid = day.sessions[1].uid
    choices = RotationChoices(stations=(beam.pk,), rounds=2, minutes=10)
    rotation_make(actor=day.cast.teacher, session=uid, choices=choices)
    for who in (day.cast.teacher, day.cast.coordinator, day.cast.substitute):
        page = read(signed_in(who), address)
        assert re.search(r"Low beam.*</dt><dd>Ada Tarn, Ben Tarn</dd>", page), who
        assert "10:10\u201310:20" in page
    shared = read(Client(), reverse("packet_open", args=[made_link(day)[1]]), press=True)
    assert "Ada Tarn, Ben Tarn</dd>" in shared
    assert reverse("rotation", args=[uid]) not in shared


def test_a_link_ends_by_itself_with_its_last_day(day: Day) -> None:
    """At midnight where the district is; made in summer time, ended in it."""
    link, secret = made_link(day)
    assert link.ends_at == dt.datetime(2026, 9, 15, 0, 0, tzinfo=NEW_YORK)
    assert link_opening(secret, dt.datetime(2026, 9, 14, 23, 59, tzinfo=NEW_YORK)) == link
    assert link_opening(secret, dt.datetime(2026, 9, 15, 0, 0, tzinfo=NEW_YORK)) is None
    assert secret not in PacketLink.objects.values_list("secret_hash", flat=True)
    day.clock("7:00", MONDAY + dt.timedelta(days=1))
    answer = Client().post(reverse("packet_open", args=[secret]))
    assert answer.status_code == 404
    assert "This link has ended" in answer.content.decode()
    assert not PacketView.objects.exists()


def test_a_link_ends_by_hand_and_with_who_made_it(day: Day) -> None:
    """At once; and nothing is shown in the name of somebody who has left."""
    link, secret = made_link(day)
    with pytest.raises(ApplicationError):
        packet_link_stop(actor=day.cast.mate, link=link, now=FRIDAY_BEFORE)
    packet_link_stop(actor=day.cast.coordinator, link=link, now=FRIDAY_BEFORE)
    assert link_opening(secret, FRIDAY_BEFORE) is None
    _, other = made_link(day)
    Person.objects.filter(pk=day.cast.teacher.pk).update(is_active=False)
    assert link_opening(other, FRIDAY_BEFORE) is None


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [(-7, -7, "past"), (4, 2, "before the first"), (0, 14, "14 days at most")],
)
def test_days_that_make_no_packet(day: Day, first: int, last: int, words: str) -> None:
    """Said at the field, with the remedy."""
    with pytest.raises(ValidationError, match=words):
        made_link(day, first=MONDAY + dt.timedelta(days=first), last=MONDAY + dt.timedelta(days=last))


def test_the_page_makes_a_link_and_shows_its_address_once(day: Day) -> None:
    """Then only who opened it when, and the way to end it."""
    browser = signed_in(day.cast.teacher)
    sent = {"first_date": MONDAY, "last_date": MONDAY, "label": "Sub on Monday"}
    page = unescape(browser.post(reverse("packet_link_new"), sent, follow=True).content.decode())
    assert "shown again" in page
    address = page.partition("/packets/")[2].partition('"')[0]
    assert "Seizures" in read(Client(), f"/packets/{address}", press=True)
    again = read(browser, reverse("packet"))
    assert address not in again
    assert "opened 1 time," in again
    browser.post(reverse("packet_link_stop", args=[PacketLink.objects.get().pk]))
    assert "Ended by hand" in read(browser, reverse("packet"))
    assert Client().get(f"/packets/{address}").status_code == 404


def test_the_api_makes_lists_and_ends_links(day: Day) -> None:
    """The address is in the answer to making it, and nowhere else."""
    api = Api(day.cast.teacher)
    made = api.post("packet-links/", 201, first_date=str(MONDAY), last_date=str(MONDAY), called="Sub")
    assert "/packets/" in made["address"]
    listed = api.get("packet-links/")["results"]
    assert [(one["label"], one["views"]) for one in listed] == [("Sub", [])]
    assert api.post(f"packet-links/{made['link']['id']}/stop/", 200)["stopped_at"] is not None
    assert Api(day.cast.mate).get("packet-links/")["results"] == []
