"""A published week, a clock that a test sets, and feeds of it."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.utils import timezone
from icalendar import Calendar

from accounts.models import Person
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.feeds.services.versions import feed_body
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_move, week_session_remove
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_ground, make_line, make_week

SITE = "https://plan.school.example"


@dataclass
class Clock:
    """What `django.utils.timezone.now` says, UTC."""

    now: dt.datetime = dt.datetime(2026, 9, 15, 11, 0, tzinfo=dt.UTC)

    def forward(self, **by: float) -> None:
        """Let time pass."""
        self.now += dt.timedelta(**by)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Tuesday of the published week, seven in the morning in New York."""
    one = Clock()
    monkeypatch.setattr(timezone, "now", lambda: one.now)
    return one


@pytest.fixture(autouse=True)
def no_misses() -> Iterator[None]:
    """Counts of earlier tests don't matter."""
    cache.clear()
    yield
    cache.clear()


@dataclass
class Ground:
    """A week in force: S01 in the north at 9:20 on Monday and Wednesday, F1 in the south on Monday at 13:15."""

    cast: Cast
    week: WeekPlan
    clock: Clock

    def session(self, day: dt.date, clock: str) -> PlannedSession:
        """A session in force."""
        rows = PlannedSession.objects.filter(week__status=WeekPlan.Status.PUBLISHED)
        return rows.get(date=day, start=at(clock))

    def _publish(self, draft: WeekPlan) -> None:
        self.week = week_publish(actor=self.cast.teacher, week=draft, expected_revision=draft.revision)

    def move(self, session: PlannedSession, day: dt.date, clock: str) -> None:
        """Move a session and publish."""
        self._publish(
            week_session_move(
                actor=self.cast.teacher, week=self.week, uid=session.uid, date=day, start=at(clock),
                expected_revision=self.week.revision,
            )
        )  # fmt: skip

    def remove(self, session: PlannedSession) -> None:
        """Take a session out and publish."""
        self._publish(
            week_session_remove(
                actor=self.cast.teacher, week=self.week, uid=session.uid, expected_revision=self.week.revision
            )
        )

    def feed(self, owner: Person | None = None, **values: object) -> tuple[Feed, str]:
        """A feed and its address; the teacher's own unless said otherwise."""
        given = {"kind": Feed.Kind.TEACHER, "site": SITE, "values": {"label": "phone"}, **values}
        return feed_add(actor=owner or self.cast.teacher, **given)  # type: ignore[arg-type]


@pytest.fixture
def ground(cast: Cast, clock: Clock) -> Ground:
    """The week, published."""
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    own = f"line-{cast.line.pk}"
    week = make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20"), (f"line-{far.pk}", date(0), "13:15")])
    return Ground(cast, week_publish(actor=cast.teacher, week=week, expected_revision=week.revision), clock)


def events_of(feed: Feed) -> dict[str, Any]:
    """The events of a feed as it stands now, by uid, read back from its bytes."""
    feed.refresh_from_db()
    return {str(one["UID"]): one for one in Calendar.from_ical(feed_body(feed)).walk("VEVENT")}


def summaries(feed: Feed) -> list[str]:
    """What a feed's events are called, in their order."""
    return [str(one["SUMMARY"]) for one in events_of(feed).values()]
