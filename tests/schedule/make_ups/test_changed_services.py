"""Make-ups of a service that changes: in the weeks after the change it stands under the version of the day."""

import datetime as dt
from functools import partial

import pytest

from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from caseload.plans.services import service_change
from schedule.make_ups.selectors.needs import make_up_need
from schedule.make_ups.selectors.options import make_ups_tried, pieces_of, placed_options, places_of
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots, open_week
from schedule.make_ups.services.booking import make_up_book
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line, make_week
from tests.schedule.log_builders import log_session

SUNDAY = date(6)
NEXT = date(7)


@pytest.fixture
def line(cast: Cast) -> ServiceLine:
    """1 x 30 at North, whose session on Monday was missed for an assembly; nothing else is planned."""
    make_ground(cast)
    cast.line.delete()
    mine = make_line(cast, "A1")
    week = make_week(cast, [(f"line-{mine.pk}", date(0), "8:30")])
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    missed = {mine.pk: Outcome(reason="assembly")}
    log_session(cast.teacher, PlannedSession.objects.get(), missed)
    return mine


def change(cast: Cast, line: ServiceLine, day: dt.date, statement: str = "1 x 45 min/week") -> ServiceLine:
    """Other terms from a day on."""
    return service_change(actor=cast.teacher, row=line, from_day=day, values={"statement": statement}, seen=None)


def dates_offered(cast: Cast, line: ServiceLine, until: dt.date) -> set[dt.date]:
    """The dates of the slots for what was missed."""
    return {one.date for one in make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=until)).slots}


def test_the_weeks_after_a_change_are_offered_too(cast: Cast, line: ServiceLine) -> None:
    """The change begins two Mondays on: the days before it are as they were, those after it are there as well."""
    before = dates_offered(cast, line, date(20))
    change(cast, line, date(14))
    after = dates_offered(cast, line, date(20))
    assert {day for day in after if day < date(14)} == {day for day in before if day < date(14)}
    assert {day for day in after if day >= date(14)} == {date(14 + n) for n in range(1, 5)}


def test_a_week_in_which_it_changes_is_offered_whole(cast: Cast, line: ServiceLine) -> None:
    """From Wednesday on it is another version: Tuesday's and Thursday's times are offered alike."""
    change(cast, line, date(9))
    assert {date(8), date(9), date(10), date(11)} <= dates_offered(cast, line, date(13))


def test_the_own_day_of_the_changed_service_is_kept_free(cast: Cast, line: ServiceLine) -> None:
    """It still meets on Mondays at 8:30, now for 45 minutes, in weeks that nobody has planned yet."""
    new = change(cast, line, date(14))
    week = open_week(cast.teacher, date(14), [], [])
    assert week is not None
    assert [(one.date, one.lines, one.start, one.end) for one in week.content.sessions] == [
        (date(14), (new.pk,), 510, 555)
    ]


def test_a_make_up_after_the_change_is_booked_under_the_new_version(cast: Cast, line: ServiceLine) -> None:
    """Its minutes aren't open any more, and sent twice it is stored once."""
    new = change(cast, line, NEXT)
    slot = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13))).slots[0]
    start = dt.time(slot.start // 60, slot.start % 60)
    for _ in range(2):
        week = make_up_book(actor=cast.teacher, line=line, date=slot.date, start=start, minutes=30, today=SUNDAY)
    booked = PlannedSession.objects.get(makes_up=True)
    assert (booked.week_id, booked.makes_up_for) == (week.pk, date(0))
    assert [one.service_line_id for one in booked.attendees.all()] == [new.pk]
    need = make_up_need(cast.teacher, line, SUNDAY)
    assert (need.minutes, [one.minutes for one in need.booked]) == (0, [30])


def test_a_booking_in_a_published_week_reaches_its_drafts(cast: Cast, line: ServiceLine) -> None:
    """As any other: the draft holds it under the new version, and breaks no rule by it."""
    new = change(cast, line, NEXT)
    week = make_week(cast, [(f"line-{new.pk}", NEXT, "8:30")], monday=NEXT)
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    draft = make_week(cast, [(f"line-{new.pk}", NEXT, "8:30")], monday=NEXT)
    slot = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13))).slots[0]
    start = dt.time(slot.start // 60, slot.start % 60)
    make_up_book(actor=cast.teacher, line=line, date=slot.date, start=start, minutes=30, today=SUNDAY)
    held = WeekPlan.objects.get(pk=draft.pk)
    assert held.sessions.filter(makes_up=True).count() == 1
    assert held.figures["broken"] == []


def test_planning_all_make_ups_looks_beyond_the_change(cast: Cast, line: ServiceLine) -> None:
    """Every place of the week after it is an option."""
    change(cast, line, NEXT)
    pieces = pieces_of([make_up_need(cast.teacher, line, SUNDAY)])
    week = open_week(cast.teacher, NEXT, make_ups_tried(pieces), [])
    assert week is not None
    found = placed_options(
        [week], pieces, partial(places_of, [week], pieces, NEXT), lambda _offer, _number, _of: True
    )
    assert {one.day for one in found.places} == {date(8), date(9), date(10), date(11)}
