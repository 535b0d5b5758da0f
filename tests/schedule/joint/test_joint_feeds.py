"""A calendar feed says with whom a session is given, and hears of what the other teacher moves."""

from icalendar import Calendar

from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.joint.models import JointService
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_week
from tests.schedule.feeds.conftest import SITE, Clock, clock
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish

__all__ = ["clock"]


def said_in(feed: Feed) -> list[str]:
    """What its events say beside what they are called."""
    feed.refresh_from_db()
    return [str(one.get("DESCRIPTION", "")) for one in Calendar.from_ical(feed_body(feed)).walk("VEVENT")]


def test_a_feed_says_with_whom_and_hears_of_the_others_moves(cast: Cast, clock: Clock) -> None:
    """No student is named for it; once the mate has moved a session, it is the teacher's own again."""
    theirs = make_two_teachers(cast)
    JointService.objects.create(service=cast.line.service, partner=theirs.service, first_day=MONDAY)
    for line in (theirs, cast.line):
        unit = f"line-{line.pk}"
        publish(make_week(cast, [(unit, date(1), "9:20"), (unit, date(3), "13:15")], teacher=line.provider))
    feed, _ = feed_add(actor=cast.teacher, kind=Feed.Kind.TEACHER, site=SITE, values={"label": "phone"})
    said = said_in(feed)
    assert sum("Together with Mate Vey." in one for one in said) == 2
    assert not any(cast.student.last_name in one for one in said)
    unit = f"line-{theirs.pk}"
    publish(make_week(cast, [(unit, date(1), "9:20"), (unit, date(4), "13:15")], teacher=cast.mate))
    assert sum("Together with Mate Vey." in one for one in said_in(feed)) == 1
