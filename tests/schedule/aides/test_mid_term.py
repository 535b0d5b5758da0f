"""An aide's new hours in the middle of a term: only who needs the aide moves, from the day on which they hold."""

import datetime as dt

import pytest

from caseload.care.models import Contact, Support
from schedule.aides.models import AideHours
from schedule.aides.services import aide_hours_save
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import TimetableSession, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

LATER = MONDAY + 2 * WEEK
NOON = dt.time(12)


def hours(cast: Cast, aide: Contact, first: dt.date, times: str) -> AideHours:
    return aide_hours_save(
        actor=cast.teacher, row=AideHours(contact=aide), values={"first_day": first, "times": times}
    )


def stands(term: TermPlan, code: str) -> set[tuple[int | None, dt.time]]:
    rows = TimetableSession.objects.filter(timetable=term.standing, attendees__student__code=code)
    return {(one.weekday, one.start) for one in rows}


@pytest.fixture
def aide(cast: Cast) -> Contact:
    """S01 needs Ms. Orel, who is there in the mornings; G1 in the north and F1 in the south need nobody."""
    make_ground(cast)
    make_line(cast, "G1")
    make_line(cast, "F1", building=cast.south)
    orel = Contact.objects.create(student=cast.student, role="aide", name="Ms. Orel", phone="555 0142")
    Support.objects.create(student=cast.student, kind="aide", text="One aide")
    hours(cast, orel, MONDAY, "Mon-Fri 8:00 to 11:00")
    return orel


def test_new_hours_move_who_needs_the_aide_and_nobody_else(cast: Cast, aide: Contact) -> None:
    term = planned(cast, weeks=5)
    term_publish(actor=cast.teacher, term=term)
    before = {code: stands(term, code) for code in ("S01", "G1", "F1")}
    assert {start < dt.time(11) for _, start in before["S01"]} == {True}
    hours(cast, aide, LATER, "Mon-Fri 12:00 to 3:00")

    after = planned(cast, first=LATER, weeks=3)
    assert {start >= NOON for _, start in stands(after, "S01")} == {True}
    assert len(stands(after, "S01")) == len(before["S01"])
    assert (stands(after, "G1"), stands(after, "F1")) == (before["G1"], before["F1"])
    way = term_detail(cast.teacher, after).ways[0]
    assert (way.way, way.moved, way.proved) == ("fewest_moves", len(before["S01"]), True)
    assert [one.building_code for one in way.tell] == [cast.north.code]
    assert all(week.kept == week.expected for week in term_detail(cast.teacher, after).weeks)

    term_publish(actor=cast.teacher, term=after)
    term_take_back(actor=cast.teacher, term=after, today=MONDAY + WEEK)
    published = WeekPlan.objects.filter(plan_run=term.run, status=WeekPlan.Status.PUBLISHED)
    assert published.filter(monday__gte=LATER).count() == 3, "the weeks before are in force again"


def test_asked_early_the_change_can_begin_with_the_new_hours(cast: Cast, aide: Contact) -> None:
    """The term is planned again from a week before: beginning with the hours, nobody moves before it has to be."""
    term = planned(cast, weeks=6)
    term_publish(actor=cast.teacher, term=term)
    hours(cast, aide, LATER, "Mon-Fri 12:00 to 3:00")
    again = planned(cast, first=LATER - WEEK, weeks=5)
    ways = {one.way: one for one in term_detail(cast.teacher, again).ways}
    assert ways["starts_later"].since == LATER
    assert ways["starts_later"].once == 0
