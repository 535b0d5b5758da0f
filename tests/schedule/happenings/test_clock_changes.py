"""Days at both clock changes of a year, by a clock that is really moved.

In the United States clocks go back on the first Sunday of November and forward on the second of March (15 U.S.C.
260a): November 1, 2026, and March 14, 2027. New York is four hours behind Greenwich in summer, five in winter.
"""

import datetime as dt

import pytest
import time_machine
from icalendar import Calendar

from caseload.delivery.models import DeliveryVersion
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.happenings.services.logged import happenings_log_due
from schedule.happenings.services.saying import happening_say
from tests.conftest import Cast
from tests.schedule.builders import at, make_ground
from tests.schedule.log_builders import publish_session

pytestmark = pytest.mark.django_db
CHANGES = [(dt.date(2026, 11, 1), 4, 5), (dt.date(2027, 3, 14), 5, 4)]
"""The Sunday, and how many hours behind Greenwich it is before and after."""


def moment(date: dt.date, clock: str, behind: int) -> dt.datetime:
    """A time of New York."""
    return dt.datetime.combine(date, at(clock), dt.timezone(-dt.timedelta(hours=behind)))


@pytest.mark.parametrize(("sunday", "before", "after"), CHANGES, ids=["back", "forward"])
def test_a_day_begins_at_its_own_midnight(cast: Cast, sunday: dt.date, before: int, after: int) -> None:
    """What falls out on Monday is logged from Monday's midnight on, and neither an hour before nor after."""
    make_ground(cast)
    monday = sunday + dt.timedelta(days=1)
    publish_session(monday, [cast.line])
    with time_machine.travel(moment(sunday, "0:30", before), tick=False) as clock:
        happening_say(actor=cast.teacher, values={"kind": "away", "first_date": monday})
        for date, time, logged in ((sunday, "12:00", 0), (sunday, "23:50", 0), (monday, "0:10", 1)):
            clock.move_to(moment(date, time, after))
            happenings_log_due()
            found = DeliveryVersion.objects.current().filter(reason__code="teacher_absent").count()
            assert (time, found) == (time, logged)


@pytest.mark.parametrize(("sunday", "before", "after"), CHANGES, ids=["back", "forward"])
def test_calendars_and_lateness_keep_the_schools_clock(
    cast: Cast, sunday: dt.date, before: int, after: int
) -> None:
    """Half past eight stays half past eight on both sides, and late from now on means now by the wall."""
    make_ground(cast)
    friday, monday = sunday - dt.timedelta(days=2), sunday + dt.timedelta(days=1)
    for date in (friday, monday):
        publish_session(date, [cast.line])
    with time_machine.travel(moment(friday, "7:00", before), tick=False) as clock:
        values = {"label": "phone", "days_ahead": 30}
        feed, _ = feed_add(actor=cast.teacher, kind="teacher", site="https://plan.school.example", values=values)
        starts = sorted(one.start for one in Calendar.from_ical(feed_body(feed)).events)
        assert starts == [moment(friday, "8:30", before), moment(monday, "8:30", after)]
        clock.move_to(moment(monday, "8:10", after))
        row = happening_say(actor=cast.teacher, values={"kind": "late", "first_date": monday, "minutes": 35})
        assert (row.start, row.end) == (at("8:10"), at("8:45"))
        starts = sorted(one.start for one in Calendar.from_ical(feed_body(feed)).events)
        assert starts == [moment(friday, "8:30", before), moment(monday, "8:45", after)]
