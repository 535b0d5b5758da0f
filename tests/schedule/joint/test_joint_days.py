"""What happens to one of two teachers of a joint session is told to the other, wherever the session stands.

What is told is docs/together.md's; no outside source.
"""

import datetime as dt
import uuid
from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from accounts.models import AuditEntry, Substitution
from accounts.people.services import substitution_save
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from schedule.calendar.models import CalendarEntry
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.joint.models import JointService
from schedule.log.services import session_log
from schedule.notices.services.watching import teacher_touch
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.told.joint import joint_between
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_week
from tests.schedule.feeds.conftest import SITE, Clock, Ground, clock
from tests.schedule.joint.test_consultations import consults
from tests.schedule.notices.test_telling import minute
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish
from tests.schedule.weeks.test_week_pages import page

__all__ = ["clock"]

TUESDAY, THURSDAY = date(1), date(3)


@pytest.fixture
def theirs(cast: Cast, clock: Clock) -> ServiceLine:
    """The mate's line: both have S01 together on Tuesday at 9:20 and Thursday at 13:15. It is Tuesday at 7 AM."""
    line = make_two_teachers(cast)
    JointService.objects.create(service=cast.line.service, partner=line.service, first_day=MONDAY)
    for one in (line, cast.line):
        unit = f"line-{one.pk}"
        publish(make_week(cast, [(unit, TUESDAY, "9:20"), (unit, THURSDAY, "13:15")], teacher=one.provider))
    return line


def with_whom(cast: Cast) -> list[str]:
    """The words of the teacher's two sessions, in order of time."""
    found = joint_between(cast.teacher, MONDAY, date(4))
    rows = PlannedSession.objects.filter(week__teacher=cast.teacher, week__status="published").order_by("date")
    return [" ".join(found.get(str(one.uid), ())) for one in rows]


def of_mate(line: ServiceLine, day: dt.date) -> PlannedSession:
    """The mate's session of a day."""
    return PlannedSession.objects.get(week__teacher=line.provider, date=day, attendees__service_line=line)


def feed_says(cast: Cast) -> Callable[[], list[str]]:
    """What the events of the teacher's own feed say, whenever it is asked."""
    feed, _ = feed_add(actor=cast.teacher, kind=Feed.Kind.TEACHER, site=SITE, values={"label": "phone"})

    def said() -> list[str]:
        feed.refresh_from_db()
        events = Calendar.from_ical(feed_body(feed)).walk("VEVENT")
        return [str(one["DESCRIPTION"]) for one in events if "Together" in str(one.get("DESCRIPTION", ""))]

    return said


def test_every_surface_says_who_is_away_and_that_it_is_over(cast: Cast, theirs: ServiceLine) -> None:
    """Day, week, print, log and feed; the session itself stays, since the teacher still has the student."""
    said = feed_says(cast)
    assert with_whom(cast) == ["Mate Vey", "Mate Vey"]
    assert not any("away" in one for one in said())
    row = happening_say(actor=cast.mate, values={"kind": "away", "first_date": TUESDAY})
    assert with_whom(cast) == ["Mate Vey, who is away", "Mate Vey"]
    week = WeekPlan.objects.get(teacher=cast.teacher, status="published")
    assert "Together with</span> Mate Vey, who is away." in page(cast.teacher, "day_of", TUESDAY)
    assert "who is away" not in page(cast.teacher, "day_of", THURSDAY)
    assert page(cast.teacher, "week_version", week.pk).count("together with Mate Vey, who is away") == 1
    assert page(cast.teacher, "week_print", week.pk).count("with Mate Vey, who is away") == 1
    assert "together with Mate Vey, who is away" in page(cast.teacher, "log", date=TUESDAY.isoformat())
    assert sum("Together with Mate Vey, who is away." in one for one in said()) == 1
    happening_take_back(actor=cast.mate, row=row)
    assert with_whom(cast) == ["Mate Vey", "Mate Vey"]
    assert not any("away" in one for one in said())


def test_an_absence_of_part_of_the_day(cast: Cast, theirs: ServiceLine) -> None:
    """What is left of it, as the mate's own day has it; a part that doesn't meet the session changes nothing."""
    happening_say(
        actor=cast.mate, values={"kind": "late", "first_date": TUESDAY, "start": at("8:00"), "minutes": 90}
    )
    happening_say(
        actor=cast.mate,
        values={"kind": "away", "first_date": THURSDAY, "start": at("8:00"), "end": at("12:00")},
    )
    assert with_whom(cast) == ["Mate Vey, who is there only from 9:30 to 9:50", "Mate Vey"]


def test_who_stands_in_is_named(cast: Cast, theirs: ServiceLine) -> None:
    values = {"substitute": cast.substitute, "teacher": cast.mate, "first_date": TUESDAY, "last_date": TUESDAY}
    substitution_save(actor=cast.coordinator, row=Substitution(), values=values)
    happening_say(actor=cast.mate, values={"kind": "away", "first_date": TUESDAY})
    assert with_whom(cast) == ["Substitute Vey, who stands in for Mate Vey", "Mate Vey"]


def test_a_session_that_the_other_logged_as_missed(cast: Cast, theirs: ServiceLine) -> None:
    """The feed hears of it, too; as planned it says nothing, and why it was missed isn't told."""
    said = feed_says(cast)
    assert len(said()) == 2
    missed = {theirs.pk: Outcome(reason="meeting")}
    session_log(
        actor=cast.mate, session=of_mate(theirs, TUESDAY), client_id=uuid.uuid4(), exceptions=missed,
        now=dt.datetime(2026, 9, 15, 20, 0, tzinfo=dt.UTC),
    )  # fmt: skip
    assert with_whom(cast) == ["Mate Vey, who logged it as missed", "Mate Vey"]
    assert sum("who logged it as missed" in one for one in said()) == 1
    session_log(
        actor=cast.mate, session=of_mate(theirs, THURSDAY), client_id=uuid.uuid4(),
        now=dt.datetime(2026, 9, 17, 20, 0, tzinfo=dt.UTC),
    )  # fmt: skip
    assert with_whom(cast)[1] == "Mate Vey"


def test_a_closed_school_stands_with_both_and_is_said_once(cast: Cast, theirs: ServiceLine) -> None:
    CalendarEntry.objects.create(
        district=cast.district,
        building=cast.north,
        kind="closed",
        title="Snow",
        first_date=TUESDAY,
        last_date=TUESDAY,
    )
    assert with_whom(cast) == ["Mate Vey", "Mate Vey"]
    shown = page(cast.teacher, "day_of", TUESDAY)
    assert "North Hollow School is closed" in shown
    assert "who is" not in shown


def test_a_consultation_says_it_too(cast: Cast, theirs: ServiceLine) -> None:
    """A meeting about a student with somebody who is away won't take place: the other is told in time."""
    lines = [consults(cast, one) for one in (cast.teacher, cast.mate)]
    JointService.objects.create(service=lines[0].service, partner=lines[1].service, first_day=MONDAY)
    for one in lines:
        publish(make_week(cast, [(f"line-{one.pk}", date(4), "10:10")], teacher=one.provider))
    happening_say(actor=cast.mate, values={"kind": "away", "first_date": date(4)})
    assert with_whom(cast) == ["Mate Vey, who is away"]


def test_notices_tell_the_teacher_and_neither_office_nor_class(
    cast: Cast, theirs: ServiceLine, clock: Clock
) -> None:
    """On Monday afternoon the mate says to be away on Tuesday."""
    clock.now = dt.datetime(2026, 9, 14, 19, 0, tzinfo=dt.UTC)
    for person in (cast.teacher, cast.office):
        person.email = f"{person.username}@school.example"
        person.save()
    AuditEntry.objects.all().delete()
    week = WeekPlan.objects.get(teacher=cast.teacher, status="published")
    ground = Ground(cast, week, clock)
    teacher_touch(teacher_id=cast.mate.pk)
    assert minute(ground) == []
    row = happening_say(actor=cast.mate, values={"kind": "away", "first_date": TUESDAY})
    told = dict(minute(ground))
    assert told["teacher@school.example"].endswith("together with Mate Vey, who is away.")
    assert "together" not in told["office@school.example"]
    assert cast.student.last_name not in str(told)
    assert minute(ground) == []
    happening_take_back(actor=cast.mate, row=row)
    assert dict(minute(ground))["teacher@school.example"].endswith("together as planned after all.")


def test_questions_do_not_grow_with_the_days(cast: Cast, theirs: ServiceLine) -> None:
    """Two joint sessions and three ask the database as often, with an absence among them."""
    for one in (theirs, cast.line):
        session = (f"line-{one.pk}", date(8), "9:20")
        publish(make_week(cast, [session], monday=date(7), teacher=one.provider))
    happening_say(actor=cast.mate, values={"kind": "away", "first_date": TUESDAY, "last_date": date(8)})
    counts = []
    for last in (date(4), date(11)):
        with CaptureQueriesContext(connection) as asked:
            found = joint_between(cast.teacher, MONDAY, last)
        counts.append((len(found), len(asked)))
    (few, asked_few), (more, asked_more) = counts
    assert (few, more) == (2, 3)
    assert asked_few == asked_more
