"""Taps on the drives of a day, by service, page and API."""

import datetime as dt
import re
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from caseload.delivery.models import DeliveryVersion
from schedule.calendar.models import CalendarEntry
from schedule.day.selectors.sheet import day_sheet
from schedule.day.services import leg_arrive, leg_start, leg_undo
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date
from tests.schedule.day_builders import Day, add_drive, make_day
from travel.drives.models import DriveLog

pytestmark = pytest.mark.django_db
TODAY = "2026-09-14"
HERE = "I\N{RIGHT SINGLE QUOTATION MARK}m here"
OFF = "Doesn\N{RIGHT SINGLE QUOTATION MARK}t take place"


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday, at 9:22."""
    made = make_day(cast, monkeypatch)
    made.clock("9:22")
    return made


@pytest.fixture
def leg(day: Day) -> str:
    """The first drive."""
    return day.key(day.cast.north, day.cast.south)


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


def tap(day: Day, what: str, leg: str, odometer: Decimal | None = None) -> None:
    """A tap by the service."""
    service = {"start": leg_start, "arrive": leg_arrive}[what]
    service(actor=day.cast.teacher, date=MONDAY, leg=leg, odometer=odometer)


def refused(day: Day, what: str, leg: str) -> str:
    """The code of a tap that is refused."""
    with pytest.raises(ApplicationError) as error:
        tap(day, what, leg)
    return error.value.code


# ---- services ----------------------------------------------------------------------------------------------


def test_start_and_arrive_measure_the_drive(day: Day, leg: str) -> None:
    """22 minutes by the clock, and 6.3 miles by the odometer; a second tap changes nothing."""
    tap(day, "start", leg, odometer=Decimal("1200.4"))
    day.clock("9:23")
    tap(day, "start", leg)
    day.clock("9:44")
    tap(day, "arrive", leg, odometer=Decimal("1206.7"))
    day.clock("9:50")
    tap(day, "arrive", leg)
    row = DriveLog.objects.get()
    assert (row.minutes, row.date, row.teacher) == (22, MONDAY, day.cast.teacher)
    assert (row.odometer_before, row.odometer_after) == (Decimal("1200.4"), Decimal("1206.7"))


def test_each_mistaken_tap_can_be_taken_back(day: Day, leg: str) -> None:
    """The arrival first, then the start; the same undo sent twice takes back one tap."""
    tap(day, "start", leg)
    day.clock("9:30")
    tap(day, "arrive", leg)
    for _ in range(2):
        leg_undo(actor=day.cast.teacher, date=MONDAY, leg=leg, tap="arrive")
    row = DriveLog.objects.get()
    assert (row.arrived_at, row.minutes) == (None, None)
    day.clock("9:43")
    tap(day, "arrive", leg)
    assert DriveLog.objects.get().minutes == 21
    leg_undo(actor=day.cast.teacher, date=MONDAY, leg=leg, tap="start")
    assert DriveLog.objects.count() == 1
    for what in ("arrive", "start", "start"):
        leg_undo(actor=day.cast.teacher, date=MONDAY, leg=leg, tap=what)
    assert not DriveLog.objects.exists()


def test_what_is_refused(day: Day, leg: str) -> None:
    """A drive that isn't in the day, an arrival without a start, one that a later drive overtook."""
    assert refused(day, "start", "1-2-9") == "no_such_drive"
    assert refused(day, "arrive", leg) == "not_started"
    tap(day, "start", leg)
    day.clock("11:16")
    tap(day, "start", day.key(day.cast.south, day.west))
    assert refused(day, "arrive", leg) == "not_the_last"
    day.clock("16:00")
    with pytest.raises(ValidationError) as error:
        tap(day, "arrive", day.key(day.cast.south, day.west))
    assert "more than four hours" in str(error.value)


def test_only_today_and_only_the_teacher(day: Day, leg: str) -> None:
    """A coordinator reads; the day after, the list of drives is the place."""
    with pytest.raises(ApplicationError) as error:
        leg_start(actor=day.cast.coordinator, date=MONDAY, leg=leg)
    assert error.value.status == 403
    with pytest.raises(ApplicationError) as error:
        leg_start(actor=day.cast.mate, date=MONDAY, leg=leg)
    assert error.value.code == "no_such_drive"
    day.clock("9:22", date(1))
    assert refused(day, "start", leg) == "other_day"


def test_an_odometer_that_runs_backwards(day: Day, leg: str) -> None:
    """Refused at its field; the drive stays under way."""
    tap(day, "start", leg, odometer=Decimal(1200))
    day.clock("9:40")
    with pytest.raises(ValidationError) as error:
        tap(day, "arrive", leg, odometer=Decimal(1100))
    assert list(error.value.message_dict) == ["odometer_after"]
    assert DriveLog.objects.get().arrived_at is None


# ---- the page ----------------------------------------------------------------------------------------------


def test_the_buttons_without_scripts(day: Day, leg: str) -> None:
    """Start, I'm here, the minutes, undo; each leads back to its drive."""
    browser = signed_in(day.cast.teacher)
    page = browser.get(reverse("day")).content.decode()
    assert page.count('type="submit">Start driving') == 3
    assert "Tap only when parked" in page
    answer = browser.post(reverse("day_start", args=[TODAY]), {"leg": leg, "odometer": ""})
    assert answer.headers["Location"] == f"/day/{TODAY}/#leg-{leg}"
    page = browser.get(reverse("day")).content.decode()
    assert "On the way" in page
    # The other two drives have theirs hidden: it is for a start that a phone keeps until there is a signal.
    assert page.count(f'type="submit">{HERE}') - page.count("data-shown-after") == 1
    assert page.count("data-shown-after") == page.count('type="submit">Start driving') == 2
    day.clock("9:44")
    browser.post(reverse("day_arrive", args=[TODAY]), {"leg": leg})
    page = browser.get(reverse("day_of", args=[TODAY])).content.decode()
    assert "Driven in 22 minutes" in page
    assert "2 more than planned" in page
    # The drive that has ended says no more when to leave.
    assert page.count("Leave the parking lot") == 2
    undo = browser.post(reverse("day_undo", args=[TODAY]), {"leg": leg, "tap": "arrive"})
    assert undo.status_code == 302
    assert f'type="submit">{HERE}' in browser.get(reverse("day")).content.decode()


@pytest.mark.parametrize(
    ("sent", "text"),
    [
        ({"odometer": "a lot"}, "Enter a number."),
        ({"odometer": "-3"}, "greater than or equal to 0"),
    ],
)
def test_bad_readings_stand_at_the_drive(day: Day, leg: str, sent: dict[str, str], text: str) -> None:
    """422, the reason at the drive, nothing saved."""
    answer = signed_in(day.cast.teacher).post(reverse("day_start", args=[TODAY]), {"leg": leg, **sent})
    assert answer.status_code == 422
    at_leg = answer.content.decode().split(f'id="leg-{leg}"')[1].split("</li>")[0]
    assert text in at_leg
    assert not DriveLog.objects.exists()


@pytest.mark.parametrize("sent", [{}, {"leg": "nonsense"}, {"leg": "0-0-1"}])
def test_a_tap_without_its_drive(day: Day, sent: dict[str, str]) -> None:
    """422, and said at the top: the drive isn't on the page."""
    answer = signed_in(day.cast.teacher).post(reverse("day_start", args=[TODAY]), sent)
    assert answer.status_code == 422
    assert "Nothing was saved" in answer.content.decode()


@pytest.mark.parametrize("text", ["yesterday", "2026-13-01", "2026-9-1", "0001-01-01"])
def test_what_is_no_date(day: Day, text: str) -> None:
    """400, with what a date looks like."""
    browser = signed_in(day.cast.teacher)
    assert browser.get(f"/day/{text}/").status_code == 400
    assert browser.post(f"/day/{text}/start/", {"leg": "1-2-1"}).status_code == 400


def test_other_peoples_days(day: Day) -> None:
    """The coordinator's page has no button; a mate asks for a colleague in vain; the office sees no student."""
    asked = f"/day/{TODAY}/?teacher={day.cast.teacher.pk}"
    page = signed_in(day.cast.coordinator).get(asked).content.decode()
    assert "Drive to South Hollow School" in page
    assert "Start driving" not in page
    assert signed_in(day.cast.mate).get(asked).status_code == 404
    assert signed_in(day.cast.stranger).get(asked).status_code == 404
    office = signed_in(day.cast.office).get(asked).content.decode()
    assert "North Hollow School" in office
    assert not re.search("Tarn|Quernmore|S01|F1|Drive to|Lunch|Team", office)


def test_a_substitute_taps_the_drives_of_a_day_that_is_covered(day: Day, leg: str) -> None:
    """The drive is the substitute's; the coordinator sees it driven, too."""
    cast = day.cast
    asked = f"?teacher={cast.teacher.pk}"
    browser = signed_in(cast.substitute)
    assert browser.post(f"/day/{TODAY}/start/{asked}", {"leg": leg}).status_code == 404
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=MONDAY, last_date=MONDAY
    )
    page = browser.get(f"/day/{TODAY}/{asked}").content.decode()
    assert "Start driving" in page
    assert f"/start/{asked}#leg-{leg}" in page
    answer = browser.post(f"/day/{TODAY}/start/{asked}", {"leg": leg, "odometer": "12.5"})
    assert (answer.status_code, answer["Location"]) == (302, f"/day/{TODAY}/{asked}#leg-{leg}")
    day.clock("9:44")
    assert browser.post(f"/day/{TODAY}/arrive/{asked}", {"leg": leg, "odometer": "18.5"}).status_code == 302
    row = DriveLog.objects.get()
    assert (row.teacher, row.odometer_after) == (cast.substitute, Decimal("18.5"))
    assert "Driven in 22 minutes" in browser.get(f"/day/{TODAY}/{asked}").content.decode()
    assert "Driven in 22 minutes" in signed_in(cast.coordinator).get(f"/day/{TODAY}/{asked}").content.decode()
    assert browser.post(f"/day/{TODAY}/undo/{asked}", {"leg": leg, "tap": "arrive"}).status_code == 302
    api = Api(cast.substitute)
    day.clock("9:45")
    arrived = api.post(f"days/{TODAY}/arrive/{asked}", expect=200, leg=leg, odometer="18.5")
    assert arrived["lines"][1]["leg"]["driven"]["minutes"] == 23
    refused = browser.post(f"/day/{TODAY}/start/{asked}", {"leg": "0-0-1"})
    assert (refused.status_code, "isn&#x27;t in the day anymore" in refused.content.decode()) == (422, True)


def test_who_drives_no_day_of_that_teacher(day: Day, leg: str) -> None:
    """Another day than the covered one, another teacher, no teacher at all: not there."""
    cast = day.cast
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=date(1), last_date=date(1)
    )
    browser = signed_in(cast.substitute)
    assert browser.post(f"/day/{TODAY}/start/?teacher={cast.teacher.pk}", {"leg": leg}).status_code == 404
    assert browser.post(f"/day/{TODAY}/start/?teacher={cast.mate.pk}", {"leg": leg}).status_code == 404
    Substitution.objects.all().delete()
    assert browser.post(f"/day/{TODAY}/start/", {"leg": leg}).status_code == 404
    assert not DriveLog.objects.exists()


def test_a_closing_of_this_morning_on_the_page(day: Day) -> None:
    """On top, with the way to mark what is missed; the drive that is off keeps its button, folded away."""
    CalendarEntry.objects.create(
        district=day.cast.district, building=day.cast.south, kind="closed", title="Burst pipe",
        first_date=TODAY, last_date=TODAY,
    )  # fmt: skip
    page = signed_in(day.cast.teacher).get(reverse("day")).content.decode()
    assert "Closed: South Hollow School" in page
    assert "Burst pipe" in page
    assert page.count("Not driven") == 2
    assert page.count(OFF) == 1
    assert "Straight there" in page
    assert page.count("m driving there anyway") == 2
    form = page.split(f'action="{reverse("day_mark")}"')[1].split("</form>")[0]
    assert "1 session as missed" in form
    sent = dict(re.findall(r'name="(date|teacher|building|client_id)" value="([^"]*)"', form))
    assert signed_in(day.cast.teacher).post(reverse("day_mark"), sent).status_code == 302
    missed = DeliveryVersion.objects.current().filter(reason__code="school_closed")
    assert {str(row.entry.session_uid) for row in missed} == {str(day.sessions[1].uid)}


def test_empty_days_lead_on(day: Day) -> None:
    """No week: to planning; a weekend: to the next day with a session."""
    browser = signed_in(day.cast.teacher)
    none = browser.get(reverse("day_of", args=["2026-09-21"])).content.decode()
    assert "No week is in force here." in none
    assert "Plan this week" in none
    sunday = browser.get(reverse("day_of", args=["2026-09-13"])).content.decode()
    assert "Sunday: no school." in sunday
    assert f'href="/day/{TODAY}/"' in sunday
    assert "Plan this week" not in sunday


def test_ways_to_the_page(day: Day) -> None:
    """In the navigation, on the week, on the log."""
    browser = signed_in(day.cast.teacher)
    assert 'href="/day/"' in browser.get(reverse("student_list")).content.decode()
    week = browser.get(reverse("home"), follow=True).content.decode()
    assert '<a class="button" href="/day/">' in week
    assert f'href="/day/{TODAY}/"' in week
    assert f'href="/day/{TODAY}/"' in browser.get(reverse("log")).content.decode()


# ---- the API -----------------------------------------------------------------------------------------------


def test_the_same_by_a_program(day: Day, leg: str) -> None:
    """The sheet, a tap, its undo, and what is wrong."""
    api = Api(day.cast.teacher)
    sheet = api.get(f"days/{TODAY}/")
    assert [line["kind"] for line in sheet["lines"]][:3] == ["session", "drive", "session"]
    assert sheet["lines"][1]["leg"]["key"] == leg
    assert sheet["lines"][0]["people"][0]["name"] == "Ola Tarn S01"
    started = api.post(f"days/{TODAY}/start/", expect=200, leg=leg, odometer="12.5")
    assert started["lines"][1]["leg"]["driven"]["started"] == "09:22:00"
    day.clock("9:44")
    arrived = api.post(f"days/{TODAY}/arrive/", expect=200, leg=leg)
    assert arrived["lines"][1]["leg"]["driven"]["minutes"] == 22
    back = api.post(f"days/{TODAY}/undo/", expect=200, leg=leg, tap="arrive")
    assert back["lines"][1]["leg"]["driven"]["arrived"] is None
    assert api.get("days/monday/", expect=400)["code"] == "bad_date"
    assert api.post(f"days/{TODAY}/start/", expect=409, leg="0-0-1")["code"] == "no_such_drive"
    assert api.post(f"days/{TODAY}/undo/", expect=400, leg=leg, tap="all")["fields"].keys() == {"tap"}
    Api(day.cast.coordinator).post(f"days/{TODAY}/start/", expect=403, leg=leg)
    Api(day.cast.mate).get(f"days/{TODAY}/?teacher={day.cast.teacher.pk}", expect=404)
    read = Api(day.cast.coordinator).get(f"days/{TODAY}/", teacher=day.cast.teacher.pk)
    assert (len(read["lines"]), read["may_tap"]) == (10, False)


def test_page_and_sheet_agree_on_the_district_s_date(day: Day) -> None:
    """Half past eleven at night in New York is Tuesday in UTC, and still Monday here."""
    day.now = dt.datetime(2026, 9, 15, 3, 30, tzinfo=dt.UTC)
    assert day_sheet(day.cast.teacher, day.cast.teacher, MONDAY).is_today
    assert "Monday, September 14" in signed_in(day.cast.teacher).get(reverse("day")).content.decode()


# ---- sent later --------------------------------------------------------------------------------------------


def test_taps_that_are_sent_later_are_of_the_moment_when_they_were_made(day: Day, leg: str) -> None:
    """Tapped on Monday at 9:22 and 9:44 without signal, sent on Tuesday morning."""
    zone = ZoneInfo(day.cast.district.time_zone)
    left, came = (dt.datetime(2026, 9, 14, 9, minute, tzinfo=zone) for minute in (22, 44))
    api, address = Api(day.cast.teacher), f"days/{TODAY}"
    later = dt.datetime(2026, 9, 15, 7, 5, tzinfo=zone)
    leg_start(actor=day.cast.teacher, date=MONDAY, leg=leg, at=left, now=later)
    leg_arrive(actor=day.cast.teacher, date=MONDAY, leg=leg, at=came, now=later)
    row = DriveLog.objects.get()
    assert (row.started_at, row.arrived_at, row.minutes, row.date) == (left, came, 22, MONDAY)
    with pytest.raises(ApplicationError) as other:
        leg_undo(actor=day.cast.teacher, date=date(1), leg=leg, tap="arrive", at=came, now=later)
    assert other.value.code == "other_day"
    leg_undo(actor=day.cast.teacher, date=MONDAY, leg=leg, tap="arrive", at=came, now=later)
    row.refresh_from_db()
    assert row.arrived_at is None
    day.clock("7:05", day=date(1))
    api.post(f"{address}/arrive/", expect=200, leg=leg, at=came.isoformat())
    row.refresh_from_db()
    assert row.arrived_at == came


def test_a_clock_that_runs_ahead_is_said(day: Day, leg: str) -> None:
    now = dt.datetime(2026, 9, 14, 9, 22, tzinfo=ZoneInfo(day.cast.district.time_zone))
    with pytest.raises(ValidationError) as refused:
        leg_start(actor=day.cast.teacher, date=MONDAY, leg=leg, at=now + dt.timedelta(hours=1), now=now)
    assert "clock may be wrong" in refused.value.message_dict["at"][0]
    assert not DriveLog.objects.exists()


def test_a_day_that_is_kept_before_it_comes_can_be_tapped_then(day: Day) -> None:
    """On the evening before: hidden until the day is there; a page with a signal has no such buttons."""
    day.clock("20:00", day=date(-1))
    client = signed_in(day.cast.teacher)
    for address in (reverse("day_of", args=[TODAY]), reverse("log") + f"?date={TODAY}"):
        kept = client.get(address, headers={"Kept-Page": "initials"}).content.decode()
        assert f'data-on="{TODAY}" hidden' in kept, address
        assert "data-on" not in client.get(address).content.decode()


# ---- several drives of a pair ------------------------------------------------------------------------------


def test_two_drives_of_a_pair_tapped_within_minutes_are_both_driven(day: Day) -> None:
    """The day is tapped in the evening: each drive is the one that was tapped, at any time of the day."""
    cast = day.cast
    add_drive(day.week, cast.north, cast.south, "15:00", "15:30", 20)
    morning, later = (day.key(cast.north, cast.south, start) for start in ("9:20", "15:00"))
    for minute, key in (("15:01", morning), ("15:05", later)):
        day.clock(minute)
        tap(day, "start", key)
        day.clock(f"{minute[:-1]}{int(minute[-1]) + 2}")
        tap(day, "arrive", key)
    sheet = day_sheet(cast.teacher, cast.teacher, MONDAY)
    driven = {line.leg.key: line.leg.driven for line in sheet.lines if line.leg is not None}
    starts = {key: one.started for key, one in driven.items() if one is not None}
    assert starts == {morning: dt.time(15, 1), later: dt.time(15, 5)}
    assert sheet.other_drives == ()
    leg_undo(actor=cast.teacher, date=MONDAY, leg=later, tap="arrive")
    assert DriveLog.objects.get(planned_drive=later).arrived_at is None
    assert DriveLog.objects.get(planned_drive=morning).arrived_at is not None


def test_what_a_phone_sends_later_finds_its_drive_in_a_changed_day(day: Day) -> None:
    """By the name of an earlier version of the program, and of a drive that was moved by ten minutes since."""
    cast = day.cast
    item = add_drive(day.week, cast.north, cast.south, "15:00", "15:30", 20)
    day.clock("15:00")
    tap(day, "start", f"{cast.north.pk}-{cast.south.pk}-2")
    key = day.key(cast.north, cast.south, "15:00")
    assert DriveLog.objects.get().planned_drive == key
    item.start = dt.time(15, 10)
    item.save()
    day.clock("15:25")
    tap(day, "arrive", key)
    assert DriveLog.objects.get().minutes == 25
    assert refused(day, "start", day.key(cast.north, cast.south, "18:00")) == "no_such_drive"
