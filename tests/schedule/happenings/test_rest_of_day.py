"""The rest of today planned again: nothing before now, what was held stays, what can move moves, and all undone."""

import datetime as dt
import uuid
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import ServiceLine
from schedule.calendar.models import Happening
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.log.services import session_log
from schedule.make_ups.selectors.after import offers_after
from schedule.weeks.models import DayItem, PlannedSession, PlanRun, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.rest.reading import rest_from
from schedule.weeks.services.runs import plan_run_start
from schedule.weeks.services.weeks import week_discard, week_publish, week_restore
from schedule.weeks.versions.content import content_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, make_ground, make_line, make_week, minute
from tests.schedule.runs import worked
from travel.places.models import Building

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
TUESDAY, FRIDAY = MONDAY + dt.timedelta(days=1), MONDAY + dt.timedelta(days=4)


@dataclass
class Today:
    """A week in force, and a clock that a test sets."""

    cast: Cast
    week: WeekPlan
    now: dt.datetime

    def clock(self, text: str, day: dt.date = MONDAY) -> None:
        """Set the clock."""
        self.now = dt.datetime.combine(day, at(text), ZONE)

    def spots(self, week: WeekPlan) -> dict[str, tuple[dt.date, str]]:
        """Date and start of each student's session."""
        rows = PlannedSession.objects.filter(week=week).order_by("date", "start")
        found = rows.values_list("attendees__student__code", "date", "start")
        return {code: (date, f"{start:%-H:%M}") for code, date, start in found}

    def session(self, code: str) -> PlannedSession:
        """The session in force of a student."""
        return PlannedSession.objects.get(week__status="published", attendees__student__code=code)

    def rest(self, first: dt.date = MONDAY, last: dt.date = MONDAY) -> WeekPlan:
        """The draft of a run that is asked for now."""
        cast = self.cast
        run = plan_run_start(
            actor=cast.teacher, teacher=cast.teacher, first_date=first, last_date=last, time_limit=5
        )
        return WeekPlan.objects.get(plan_run=worked(run))

    def publish(self, draft: WeekPlan) -> WeekPlan:
        """Accept it."""
        return week_publish(actor=self.cast.teacher, week=draft, expected_revision=draft.revision)


def alone(cast: Cast, code: str, building: Building) -> None:
    """A student who is served once a week, one to one."""
    make_line(cast, code, building=building, setting=ServiceLine.Setting.ONE_TO_ONE, largest_group=1)


@pytest.fixture
def today(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Today:
    """Monday: two in the morning and one in the afternoon at the north, one in the afternoon at the south."""
    make_ground(cast)
    for code, building in (("A1", cast.north), ("B1", cast.north), ("C1", cast.north), ("D1", cast.south)):
        alone(cast, code, building)
    alone(cast, "E1", cast.north)
    found = Today(cast, WeekPlan(), dt.datetime.combine(MONDAY - dt.timedelta(days=2), at("12:00"), ZONE))
    monkeypatch.setattr(timezone, "now", lambda: found.now.astimezone(dt.UTC))
    units = {one.plan.student.code: f"line-{one.pk}" for one in ServiceLine.objects.select_related("plan__student")}
    held = [
        (units["A1"], MONDAY, "8:30"),
        (units["B1"], MONDAY, "9:20"),
        (units["C1"], MONDAY, "11:35"),
        (units["D1"], MONDAY, "13:15"),
        (units["E1"], TUESDAY, "9:20"),
    ]
    draft = make_week(cast, held)
    found.week = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    found.clock("9:30")
    return found


def reasons() -> dict[str, str]:
    """By which reasons minutes are missed as the log stands, by student."""
    rows = DeliveryVersion.objects.current().exclude(reason=None)
    return dict(rows.values_list("entry__student__code", "reason__code"))


def dismissed(today: Today) -> Happening:
    """Everybody goes home at 11:30, said at 9:30."""
    return happening_say(
        actor=today.cast.teacher, values={"kind": "early_dismissal", "first_date": MONDAY, "start": at("11:30")}
    )


def test_what_still_fits_before_the_bell_moves_and_the_rest_falls_out(today: Today) -> None:
    """Period 3 is the only one left (tests.schedule.builders.PERIODS): one of the two fits it, the other doesn't.

    What moved waits for its log again; what couldn't is missed where it stood, for the cause that took it.
    """
    dismissed(today)
    assert reasons() == {"C1": "short_day", "D1": "short_day"}
    draft = today.rest()
    spots = today.spots(draft)
    assert {code: spots[code] for code in ("A1", "B1", "E1")} == {
        "A1": (MONDAY, "8:30"),
        "B1": (MONDAY, "9:20"),
        "E1": (TUESDAY, "9:20"),
    }
    moved = [code for code in ("C1", "D1") if minute(spots[code][1]) < minute("11:30")]
    [stayed] = {"C1", "D1"} - set(moved)
    assert minute("10:10") <= minute(spots[moved[0]][1]) <= minute("10:25")
    assert spots[stayed] == today.spots(today.week)[stayed]
    assert not draft.figures["broken"]
    today.publish(draft)
    assert reasons() == {stayed: "short_day"}


def test_it_is_taken_back_whole(today: Today) -> None:
    """The version before comes back, and what falls out in it is logged again; then nothing happened at all."""
    row = dismissed(today)
    draft = today.publish(today.rest())
    week_restore(actor=today.cast.teacher, week=draft)
    assert reasons() == {"C1": "short_day", "D1": "short_day"}
    happening_take_back(actor=today.cast.teacher, row=row)
    assert reasons() == {}
    published = WeekPlan.objects.get(status="published")
    assert today.spots(published) == today.spots(today.week)


def test_a_draft_that_is_discarded_changes_nothing(today: Today) -> None:
    """What was logged and what is in force stay."""
    dismissed(today)
    week_discard(actor=today.cast.teacher, week=today.rest())
    assert reasons() == {"C1": "short_day", "D1": "short_day"}
    assert WeekPlan.objects.get(status="published") == today.week


def test_what_was_held_stays_whatever_the_clock_says(today: Today) -> None:
    """The afternoon's session was held early in the morning and logged; the planner leaves it alone."""
    session_log(actor=today.cast.teacher, session=today.session("C1"), client_id=uuid.uuid4())
    dismissed(today)
    draft = today.rest()
    assert today.spots(draft)["C1"] == (MONDAY, "11:35")
    assert minute(today.spots(draft)["D1"][1]) < minute("11:30")


def test_nothing_that_has_begun_meanwhile_is_changed(today: Today) -> None:
    """Accepted an hour later, the draft would move a session into the past: it is refused."""
    dismissed(today)
    draft = today.rest()
    today.clock("10:40")
    with pytest.raises(ApplicationError) as refused:
        today.publish(draft)
    assert refused.value.code == "gone_by"
    assert WeekPlan.objects.get(status="published") == today.week


@pytest.mark.parametrize(
    ("clock", "building", "begins"),
    [("7:00", None, "7:00"), ("9:30", "NORTH", "9:55"), ("10:20", "NORTH", "10:20")],
)
def test_the_teacher_is_where_the_day_has_led(today: Today, clock: str, building: str | None, begins: str) -> None:
    """Before anything began as ever; in a session until it ends and all is set up again (5 minutes as shipped).

    Preparation waits for the rest.
    """
    rest = rest_from(today.cast.teacher, content_read(today.week), MONDAY, minute(clock))
    place = {None: None, "NORTH": today.cast.north.pk, "SOUTH": today.cast.south.pk}[building]
    assert rest.place == place
    assert rest.begins == minute(begins)


def test_on_the_road_the_teacher_is_where_the_drive_ends(today: Today) -> None:
    """The drive that is under way is driven to its end."""
    drive = DayItem.objects.get(week=today.week, kind="drive", building=today.cast.south)
    in_it = drive.start.hour * 60 + drive.start.minute + 1
    rest = rest_from(today.cast.teacher, content_read(today.week), MONDAY, in_it)
    assert rest.place == today.cast.south.pk
    assert rest.begins == drive.end.hour * 60 + drive.end.minute + 5


def test_a_day_that_is_over_has_no_rest(today: Today) -> None:
    """It says so, and nothing is begun."""
    today.clock("15:30")
    with pytest.raises(ApplicationError, match="your day is over"):
        today.rest()
    assert not PlanRun.objects.exists()


def test_the_rest_of_the_week_keeps_what_is_behind(today: Today) -> None:
    """Monday's sessions that fell out aren't placed on other days again: they wait to be made up."""
    dismissed(today)
    draft = today.rest(TUESDAY, FRIDAY)
    spots = today.spots(draft)
    assert spots.pop("S01")[0] >= TUESDAY  # It had no place before, and finds one.
    assert spots == today.spots(today.week)
    assert not draft.figures["broken"]
    today.publish(draft)
    assert reasons() == {"C1": "short_day", "D1": "short_day"}


def test_a_day_ahead_that_wont_be_is_planned_elsewhere(today: Today) -> None:
    """Tuesday is closed, known on Monday: its session goes to another day, in the rest of the week."""
    happening_say(actor=today.cast.teacher, values={"kind": "closed", "first_date": TUESDAY})
    draft = today.publish(today.rest(TUESDAY, FRIDAY))
    assert today.spots(draft)["E1"][0] > TUESDAY
    assert reasons() == {}


def test_what_would_be_held_is_never_taken_out_for_what_fell_out(today: Today) -> None:
    """A class of three falls out beside a student whose session is held in the only time that is left.

    Placing the class instead would place more minutes; it falls out, and the one session stays.
    """
    cast = today.cast
    for code in ("R1", "R2", "R3"):
        make_line(cast, code, setting=ServiceLine.Setting.OWN_CLASS, home_class=cast.room4)
    units = load_week(cast.teacher, MONDAY).units.unit_of_line()
    unit = {row.plan.student.code: units[row.pk] for row in ServiceLine.objects.filter(pk__in=units)}
    held = [(unit["B1"], MONDAY, "9:20"), (unit["E1"], MONDAY, "10:10"), (unit["R1"], MONDAY, "11:35")]
    draft = make_week(cast, held)
    today.publish(draft)
    dismissed(today)
    rest = today.rest()
    spots = today.spots(rest)
    assert spots["E1"] == (MONDAY, "10:10")
    assert {spots[code] for code in ("R1", "R2", "R3")} == {(MONDAY, "11:35")}
    assert rest.figures["minutes_placed"] == 5 * 30


def test_what_is_held_in_part_stays_if_it_fits_nowhere_else(today: Today) -> None:
    """Everybody leaves at 11:50: of the session at 11:35 fifteen minutes are left, which is enough.

    The times before are taken, so it isn't moved, and it isn't taken out.
    """
    cast = today.cast
    units = load_week(cast.teacher, MONDAY).units.unit_of_line()
    unit = {row.plan.student.code: units[row.pk] for row in ServiceLine.objects.filter(pk__in=units)}
    held = [(unit["B1"], MONDAY, "9:20"), (unit["E1"], MONDAY, "10:10"), (unit["C1"], MONDAY, "11:35")]
    today.publish(make_week(cast, held))
    values = {"kind": "early_dismissal", "first_date": MONDAY, "start": at("11:50")}
    happening_say(actor=cast.teacher, values=values)
    rest = today.rest()
    assert today.spots(rest)["C1"] == (MONDAY, "11:35")
    assert not DayItem.objects.filter(week=rest, kind="meeting").exists()
    assert today.spots(today.publish(rest))["E1"] == (MONDAY, "10:10")


def test_the_week_page_says_what_it_is_planned_for_and_wont_be(today: Today) -> None:
    """Closed the day after: said on the week's page, planned again with one press, and said no more."""
    happening_say(actor=today.cast.teacher, values={"kind": "closed", "first_date": TUESDAY})
    browser = Client()
    browser.force_login(today.cast.teacher)
    address = f"{reverse('week')}?week={MONDAY}"
    page = browser.get(address).content.decode()
    assert "Tuesday, September 15: 1 session falls out" in page
    assert "Plan the rest of the week again" in page
    assert "Plan the rest of today again" not in page
    sent = {"teacher": today.cast.teacher.pk, "date": TUESDAY, "scope": "week"}
    asked = browser.post(reverse("plan_rest"), sent)
    run = worked(PlanRun.objects.get())
    shown = browser.get(asked["Location"]).content.decode()
    assert "moved from Tuesday 9:20" in shown
    draft = WeekPlan.objects.get(plan_run=run)
    accepted = {"revision": draft.revision, "run": run.pk}
    assert browser.post(reverse("week_publish", args=[draft.pk]), accepted)["Location"].startswith("/day/")
    assert "Planned for what won" not in browser.get(address).content.decode()


def test_a_later_week_keeps_what_fits_nowhere(today: Today) -> None:
    """Known a week ahead: all but Friday is closed; what Friday can't hold stays on its day and is missed there."""
    today.clock("12:00", MONDAY - dt.timedelta(days=3))
    values = {"kind": "closed", "first_date": MONDAY, "last_date": FRIDAY - dt.timedelta(days=1)}
    happening_say(actor=today.cast.teacher, values=values)
    cast = today.cast
    run = plan_run_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=FRIDAY, time_limit=5, rest=True
    )
    spots = today.spots(WeekPlan.objects.get(plan_run=worked(run)))
    assert set(spots) >= {"A1", "B1", "C1", "D1", "E1"}
    assert {day for day, _ in spots.values()} <= {MONDAY, TUESDAY, FRIDAY}


def test_what_fell_out_is_offered_where_it_still_fits_this_week(today: Today) -> None:
    """Each with its miles, from tomorrow on; what is booked is offered no more, and taken back, nothing waits."""
    row = dismissed(today)
    browser = Client()
    browser.force_login(today.cast.teacher)
    address = reverse("make_ups_after", args=[row.pk])
    offers = offers_after(today.cast.teacher, today.cast.teacher, row, MONDAY)
    assert [one.students[0].code for one in offers] == ["C1", "D1"]
    assert all(TUESDAY <= slot.date <= FRIDAY for one in offers for slot in one.slots)
    assert [len(one.slots) for one in offers] == [3, 3]
    page = browser.get(address).content.decode()
    assert "mile" in page
    assert page.count("Book<span") == 6
    told = browser.get(reverse("api:make_ups_after", args=[row.pk])).json()
    assert [one["missed"] for one in told] == [f"{MONDAY}"] * 2
    assert [[slot["date"] for slot in one["slots"]] for one in told] == [
        [f"{slot.date}" for slot in one.slots] for one in offers
    ]
    slot = offers[0].slots[0]
    sent = {"date": slot.date, "start": f"{slot.start // 60}:{slot.start % 60:02}", "minutes": slot.minutes}
    booked = browser.post(reverse("make_up_book", args=[offers[0].line]), sent | {"makes_up_for": MONDAY})
    assert booked.status_code == 302
    left = offers_after(today.cast.teacher, today.cast.teacher, row, MONDAY)
    assert [one.students[0].code for one in left] == ["D1"]
    happening_take_back(actor=today.cast.teacher, row=row)
    assert "Nothing that fell out" in browser.get(address).content.decode()
