"""Services that are short for one reason wait together, and one press plans them."""

import html

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Substitution
from caseload.delivery.models import LedgerSettings
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.rows import Kind
from schedule.attention.selectors.shared import shared_causes
from schedule.attention.services import shared_cause_plan
from schedule.calendar.models import BusyCalendar, BusyTime, CalendarEntry, MarkingPeriod, SchoolYear
from schedule.weeks.models import PlannedSession, PlanRun
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_ground, make_line
from tests.schedule.log_builders import log_session, publish_session
from tests.schedule.runs import worked

SATURDAY = date(5)


@pytest.fixture
def lines(cast: Cast) -> list[ServiceLine]:
    """Four lines of 1 x 30 a week, held on a Wednesday; the Wednesday after is closed, and a whole week is owed."""
    make_ground(cast)
    cast.line.delete()
    LedgerSettings.objects.update_or_create(district=cast.district, defaults={"short_week": "whole"})
    CalendarEntry.objects.create(
        district=cast.district, first_date=date(9), last_date=date(9), kind="closed", title="Fair Day - No School"
    )
    made = [make_line(cast, code, largest_group=8) for code in ("A1", "A2", "A3", "A4")]
    log_session(cast.teacher, publish_session(date(2), made))
    MarkingPeriod.objects.create(
        district=cast.district,
        school_year=SchoolYear.objects.get(),
        name="First",
        first_day=date(-10),
        last_day=date(20),
    )
    return made


def test_the_same_short_week_is_said_once(cast: Cast, lines: list[ServiceLine]) -> None:
    """Four services owe 30 minutes in the week of the closed Wednesday (by hand), and none are planned then."""
    [shared] = shared_causes(attention(cast.teacher, cast.teacher, SATURDAY))
    assert (shared.kind, shared.words) == (Kind.SHORT, "One session short by Fair Day: 4 services.")
    assert (shared.services, shared.minutes, shared.plannable) == (4, 120, True)


def test_an_absence_that_is_planned_is_a_cause(cast: Cast, lines: list[ServiceLine]) -> None:
    """The teacher's own calendar fills the third Wednesday; a substitute who covers it gives the sessions."""
    CalendarEntry.objects.all().delete()
    calendar = BusyCalendar.objects.create(district=cast.district, teacher=cast.teacher, title="Own")
    for start, end in (("7:00", "11:00"), ("11:00", "15:00")):
        BusyTime.objects.create(calendar=calendar, date=date(16), start=at(start), end=at(end))
    [shared] = shared_causes(attention(cast.teacher, cast.teacher, SATURDAY))
    assert shared.words == "One session short by an absence planned for September 30, 2026: 4 services."
    assert (shared.minutes, shared.plannable) == (120, True)
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=date(16), last_date=date(16)
    )
    assert not any(one.minutes for one in shared_causes(attention(cast.teacher, cast.teacher, SATURDAY)))


def test_half_a_day_away_takes_nothing_for_sure(cast: Cast, lines: list[ServiceLine]) -> None:
    """The sessions can be moved: nothing is short by that."""
    CalendarEntry.objects.all().delete()
    calendar = BusyCalendar.objects.create(district=cast.district, teacher=cast.teacher, title="Own")
    BusyTime.objects.create(calendar=calendar, date=date(16), start=at("8:00"), end=at("14:59"))
    assert not any(one.minutes for one in shared_causes(attention(cast.teacher, cast.teacher, SATURDAY)))


def test_one_that_differs_is_no_part_of_the_cause(cast: Cast, lines: list[ServiceLine]) -> None:
    """A fifth service that nothing is planned for stands by itself."""
    other = make_line(cast, "B1")
    found = attention(cast.teacher, cast.teacher, SATURDAY)
    short = [row for row in found.parted.differ if row.kind is Kind.SHORT]
    assert {row.line_id for row in short} == {other.pk}
    assert [one.services for one in shared_causes(found)] == [4]


def test_one_press_plans_them_and_then_they_no_longer_wait(cast: Cast, lines: list[ServiceLine]) -> None:
    """Each of the four gets its 30 minutes in a draft; while that stands, nothing of it waits."""
    run = worked(shared_cause_plan(actor=cast.teacher, teacher=cast.teacher, cause="Fair Day", today=SATURDAY))
    placed = PlannedSession.objects.filter(week__plan_run=run, makes_up=True)
    minutes = {line.pk: 0 for line in lines}
    for session in placed:
        for attendee in session.attendees.all():
            minutes[attendee.service_line_id] += (session.end.hour - session.start.hour) * 60 + (
                session.end.minute - session.start.minute
            )
    assert minutes == {line.pk: 30 for line in lines}
    assert not shared_causes(attention(cast.teacher, cast.teacher, SATURDAY))
    with pytest.raises(ApplicationError) as refused:
        shared_cause_plan(actor=cast.teacher, teacher=cast.teacher, cause="Fair Day", today=SATURDAY)
    assert refused.value.code == "cause_gone"


def test_only_those_who_share_the_cause_are_planned(cast: Cast, lines: list[ServiceLine]) -> None:
    """Another service's open minutes are left for their own press."""
    other = make_line(cast, "B1", building=cast.south)
    log_session(cast.teacher, publish_session(date(1), [other]), {other.pk: Outcome(reason="assembly")})
    run = shared_cause_plan(actor=cast.teacher, teacher=cast.teacher, cause="Fair Day", today=SATURDAY)
    assert list(run.job.payload["lines"]) == [line.pk for line in lines]


def test_a_trip_that_four_missed_is_one_cause(cast: Cast, lines: list[ServiceLine]) -> None:
    """Missed together, said together, planned together."""
    away = {line.pk: Outcome(reason="assembly") for line in lines}
    log_session(cast.teacher, publish_session(date(7), lines), away)
    found = shared_causes(attention(cast.teacher, cast.teacher, date(12)))
    [behind] = [one for one in found if one.kind is Kind.BEHIND]
    assert behind.words.startswith("Assembly or trip on September 21, 2026: 4 services, 120 minutes to make up")
    assert behind.which().lines == tuple(line.pk for line in lines)


def test_the_page_and_the_api_say_and_do_the_same(
    cast: Cast, lines: list[ServiceLine], client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence once, the press, and each service below; the API lists the cause and takes it."""
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SATURDAY)
    client.force_login(cast.teacher)
    page = html.unescape(client.get(reverse("attention")).content.decode())
    assert page.count("<strong>One session short by Fair Day: 4 services.</strong>") == 1
    assert page.count("30 minutes short by Fair Day") == 4
    [cause] = client.get(reverse("api:attention_causes")).json()
    assert (cause["cause"], cause["services"], cause["plannable"]) == ("Fair Day", 4, True)
    rows = client.get(reverse("api:attention")).json()
    assert [row["cause"] for row in rows if row["kind"] == "Will be behind"] == ["Fair Day"] * 4
    pressed = client.post(reverse("attention_plan"), {"cause": "Fair Day"})
    assert pressed.headers["Location"] == reverse("plan_run", args=[PlanRun.objects.get().pk])
    again = client.post(reverse("api:attention_plan"), {"cause": "Fair Day"}, content_type="application/json")
    assert (again.status_code, PlanRun.objects.count()) == (201, 1)
    gone = client.post(reverse("attention_plan"), {"cause": "Snow"}, follow=True).content.decode()
    assert "wait together anymore" in gone


def test_one_week_that_is_too_thin_is_called_by_its_name(cast: Cast, lines: list[ServiceLine]) -> None:
    """The second week in force holds the first line alone: the other three are short in that one only."""
    week = publish_session(date(15), lines[:1]).week
    assert week.monday == date(14)
    found = shared_causes(attention(cast.teacher, cast.teacher, SATURDAY))
    assert "Too little is planned in the week of September 28, 2026: 3 services, 90 minutes short." in {
        one.words for one in found
    }
