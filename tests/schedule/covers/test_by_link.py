"""Somebody who stands in by a link: their day with taps, log and miles, under their name, and nothing else."""

import datetime as dt
import re
from html import unescape
from itertools import product

import pytest
from axes.models import AccessLog
from django.test import Client
from django.urls import resolve, reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from accounts.selectors import today_of
from accounts.sign_in.by_link import LINK_PAGES
from caseload.care.models import Caution
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import Student
from schedule.covers.services import Arranged, CoverWanted, cover_address_renew, cover_arrange, cover_end
from schedule.day.selectors.sheet import day_sheet
from schedule.happenings.services.saying import happening_say
from schedule.packet.services import packet_link_stop
from schedule.trips.selectors.month import month_view
from tests.config.permission_table import API, TABLE
from tests.config.things import make_things
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day
from travel.drives.models import DriveLog
from travel.mileage.models import Voucher

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + dt.timedelta(days=1)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday at 6:40; a student of the second session has a caution."""
    made = make_day(cast, monkeypatch)
    Caution.objects.create(student=Student.objects.get(code="F1"), text="Seizures", decides="The nurse")
    return made


def arranged(day: Day, *sessions: int) -> Arranged:
    """Kim Aster comes by a link on Monday, for all sessions or for some."""
    row = happening_say(actor=day.cast.teacher, values={"kind": "away", "first_date": MONDAY})
    wanted = CoverWanted(called="Kim Aster", sessions=frozenset(day.sessions[one].uid for one in sessions))
    return cover_arrange(actor=day.cast.teacher, absence=row, wanted=wanted)


def opened(made: Arranged) -> Client:
    """A browser in which the link was opened."""
    browser = Client()
    address = reverse("packet_open", args=[made.secret])
    assert "Kim Aster" in browser.get(address).content.decode()
    answer = browser.post(address)
    assert (answer.status_code, answer["Location"]) == (302, reverse("day_of", args=[MONDAY]))
    return browser


def text_of(browser: Client, address: str) -> str:
    """A page as it is read."""
    answer = browser.get(address)
    assert answer.status_code == 200, (address, answer.status_code)
    return unescape(answer.content.decode())


def test_the_day_is_theirs(day: Day) -> None:
    """The sheet with cautions; a tap on the first drive and a log, both under the name given for the link."""
    made = arranged(day)
    browser = opened(made)
    page = text_of(browser, reverse("day"))
    assert "Seizures" in page
    assert "Kim Aster" in page
    drive = {"leg": day.key(day.cast.north, day.cast.south), "teacher": day.cast.teacher.pk}
    day.clock("9:20")
    assert browser.post(reverse("day_start", args=[MONDAY]), drive).status_code == 302
    assert str(DriveLog.objects.get().teacher) == "Kim Aster (substitute, link)"
    body = {"uid": day.sessions[0].uid, "client_id": day.sessions[0].uid, "as_planned": "1"}
    form = text_of(browser, f"{reverse('log_session')}?uid={day.sessions[0].uid}")
    body |= dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    assert browser.post(reverse("log_session"), body).status_code in {200, 302}
    assert not AccessLog.objects.filter(path_info__contains=made.secret).exists()
    version = DeliveryVersion.objects.current().get(delivered_minutes__gt=0)
    assert str(version.logged_by) == "Kim Aster (substitute, link)"
    assert version.entry.student == day.cast.student


def test_the_miles_are_claimed_by_who_drove(day: Day) -> None:
    """Each trip confirmed and the voucher submitted on the day itself; the coordinator approves it."""
    made = arranged(day)
    person, browser = made.cover.substitute, opened(made)
    day.clock("16:00")
    month = f"{MONDAY:%Y-%m}"
    trips = month_view(person, person, MONDAY.replace(day=1)).trips
    assert len(trips) == 3
    said = {"month": month, "key": [one.key for one in trips]}
    assert browser.post(reverse("trips_confirm"), said).status_code == 302
    address = reverse("voucher_submit", args=[month])
    asked = re.findall(r'name="question" value="([^"]+)"', text_of(browser, address))
    answer = browser.post(address, {"question": asked, "answer": ["By the shorter road."] * len(asked)})
    voucher = Voucher.objects.get()
    assert (answer.status_code, voucher.submitted_by) == (302, person)
    assert text_of(browser, reverse("voucher", args=[voucher.pk]))
    coordinator = Client()
    coordinator.force_login(day.cast.coordinator)
    assert coordinator.post(reverse("voucher_step", args=[voucher.pk, "approve"])).status_code == 302
    voucher.refresh_from_db()
    assert voucher.status == Voucher.Status.APPROVED
    assert browser.post(reverse("voucher_step", args=[voucher.pk, "pay"])).status_code in {403, 404}


def test_every_link_on_their_pages_opens(day: Day) -> None:
    """Whoever follows what stands on the pages finds no page that isn't there, nor a form that leads to none."""
    browser = opened(arranged(day))
    seen, waiting, missing = {"/sign-out/"}, [("/", ""), (reverse("day_of", args=[MONDAY]), "")], set()
    while waiting:
        address, on = waiting.pop()
        answer = browser.get(address, follow=True)
        if answer.status_code != 200:
            missing.add((address, on))
            continue
        for kind, found in re.findall(r'(href|action)="(/[^"#]*)', unescape(answer.content.decode())):
            # The manual is one for everybody: it leads to pages that aren't theirs.
            beyond = address.startswith("/manual/") and not found.startswith("/manual/")
            if beyond or found in seen or "/static/" in found:
                continue
            seen.add(found)
            if kind == "href":
                # Days and months lead to the next without end.
                waiting += [(found, address)] if str(MONDAY) in address or len(seen) < 60 else []
            elif resolve(found.partition("?")[0]).view_name not in LINK_PAGES:
                missing.add((found, address))
    assert missing == set()
    assert len(seen) > 8


def test_all_other_addresses_are_not_there(db: None) -> None:
    """Whatever the address and the method, pages and API alike: 404, but for the pages named for links."""
    things = make_things()
    cast, today = things.cast, today_of(things.cast.teacher)
    Substitution.objects.all().delete()
    absence = happening_say(actor=cast.teacher, values={"kind": "away", "first_date": today})
    made = cover_arrange(actor=cast.teacher, absence=absence, wanted=CoverWanted(called="Kim Aster"))
    browser = Client()
    browser.post(reverse("packet_open", args=[made.secret]))
    assert browser.get(reverse("day")).status_code == 200
    for name, row in TABLE.items():
        for method in row.methods if name not in LINK_PAGES else ():
            path = reverse(name, kwargs={part: things.value(thing) for part, thing in row.at.items()})
            if not row.public:
                assert getattr(browser, method)(path).status_code == 404, (method, name)
    assert not LINK_PAGES & set(API)


def test_no_other_day_and_no_other_session(day: Day) -> None:
    """Of four sessions one is theirs: its students, its log and its day, and nothing of the others."""
    made = arranged(day, 1)
    browser = opened(made)
    page = text_of(browser, reverse("day"))
    for one in ("Quernmore-W1", day.cast.student.last_name):
        assert f"{one}<" not in page, one
    sheet = day_sheet(made.cover.substitute, day.cast.teacher, MONDAY)
    assert [line.start.hour for line in sheet.sessions] == [10]
    assert set(Student.objects.visible_to(made.cover.substitute).values_list("code", flat=True)) == {"F1", "F2"}
    for number in (0, 2, 3):
        uid = day.sessions[number].uid
        assert browser.get(f"{reverse('log_session')}?uid={uid}").status_code == 404
        assert browser.get(reverse("class_hour", args=[MONDAY, uid])).status_code == 404
        assert browser.get(reverse("rotation", args=[uid])).status_code == 404
    for date, name in product((MONDAY - dt.timedelta(days=3), TUESDAY), ("day_of", "load_list")):
        text = text_of(browser, reverse(name, args=[date]))
        assert "South Hollow" not in text, (name, date)
    packet = text_of(browser, f"{reverse('packet')}?teacher={day.cast.teacher.pk}&first={MONDAY}&last={MONDAY}")
    assert "Seizures" in packet
    assert "Quernmore-W1" not in packet


@pytest.mark.parametrize("how", ["over", "stopped", "ended", "renewed", "left"])
def test_nothing_after_its_end(day: Day, how: str) -> None:
    """Past its last day, stopped, taken back, with another address, without the teacher: at once."""
    made = arranged(day)
    browser = opened(made)
    match how:
        case "over":
            day.clock("0:00", TUESDAY)
        case "stopped":
            assert made.link is not None
            packet_link_stop(actor=day.cast.teacher, link=made.link, now=timezone.now())
        case "ended":
            cover_end(actor=day.cast.teacher, cover=made.cover)
        case "renewed":
            cover_address_renew(actor=day.cast.teacher, cover=made.cover)
        case _:
            Person.objects.filter(pk=day.cast.teacher.pk).update(is_active=False)
    for name in ("day", "packet", "log", "home"):
        answer = browser.get(reverse(name))
        assert answer.status_code in ({302} if how == "renewed" else {404}), name
        assert "Seizures" not in answer.content.decode()
    assert Client().post(reverse("packet_open", args=[made.secret])).status_code == 404
    if how in {"over", "ended"}:
        assert not Student.objects.visible_to(made.cover.substitute).exists()


def test_before_its_first_day_it_is_for_reading(day: Day) -> None:
    """On the evening before: the packet of the own sessions, and no session begins."""
    day.clock("19:00", MONDAY - dt.timedelta(days=3))
    made = arranged(day, 1)
    browser = Client()
    answer = browser.post(reverse("packet_open", args=[made.secret]))
    page = unescape(answer.content.decode())
    assert answer.status_code == 200
    assert "Seizures" in page
    assert "8:30" not in page
    assert browser.get(reverse("day")).status_code == 302


def test_a_new_address_takes_the_place_of_the_one_before(day: Day) -> None:
    """The other opens the same day under the same name; past the last day there is none."""
    made = arranged(day)
    secret = cover_address_renew(actor=day.cast.coordinator, cover=made.cover)
    assert Client().post(reverse("packet_open", args=[secret])).status_code == 302
    day.clock("0:00", TUESDAY)
    with pytest.raises(ApplicationError, match="is over"):
        cover_address_renew(actor=day.cast.coordinator, cover=made.cover)


def test_who_comes_by_a_link_has_no_sign_in(day: Day) -> None:
    """Not among the people, no password, in nobody's list of substitutes."""
    made = arranged(day)
    person = made.cover.substitute
    assert not person.has_usable_password()
    browser = Client()
    browser.force_login(day.cast.coordinator)
    assert "Kim Aster" not in text_of(browser, reverse("substitution_new"))
    assert str(person.username) not in text_of(browser, reverse("people"))
    answer = browser.post(reverse("person_password", args=[person.pk]))
    assert answer.status_code == 404
