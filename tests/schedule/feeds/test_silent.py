"""Calendars that have gone silent are told on Today, at the feeds and by the API, and no longer once they speak."""

from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from accounts.models import Person
from schedule.calendar.models import BusyCalendar, CalendarSource
from schedule.feeds.models import Feed
from schedule.feeds.selectors.silent import silent_calendars
from schedule.feeds.services.feeds import feed_stop
from tests.schedule.feeds.conftest import SITE, Ground


def fetch(address: str) -> None:
    """As a phone does."""
    assert Client().get(address.removeprefix(SITE), headers={"user-agent": "Pocket/1"}).status_code == 200


def silent(ground: Ground, person: Person | None = None) -> list[tuple[str, str]]:
    """Kind and title of each."""
    viewer = person or ground.cast.teacher
    return [(one.kind, one.title) for one in silent_calendars(viewer, ground.clock.now)]


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


def test_a_feed_that_nobody_fetches_anymore_is_told_until_it_is_fetched(ground: Ground) -> None:
    """One that was handed out and never fetched isn't: it may never have been subscribed."""
    _, address = ground.feed()
    ground.feed(values={"label": "never used"})
    ground.clock.forward(days=10)
    assert silent(ground) == []
    fetch(address)
    ground.clock.forward(days=2)
    assert silent(ground) == []
    ground.clock.forward(days=2)
    assert silent(ground) == [("feed", "phone")]
    client = signed_in(ground.cast.teacher)
    for page in (client.get(reverse("day")).text, client.get(reverse("feeds")).text):
        assert "Not fetched for 4 days, last by Pocket/1" in page
    assert "Not fetched for" not in client.get(reverse("day_of", args=["2026-09-14"])).text
    api = APIClient()
    api.force_authenticate(ground.cast.teacher)
    (told,) = api.get("/api/1/silent-calendars/").json()
    assert told["address"] == reverse("feed", args=[told["pk"]])
    assert silent(ground, ground.cast.mate) == silent(ground, ground.cast.coordinator) == []
    fetch(address)
    assert silent(ground) == []


def test_a_stopped_one_is_silent_on_purpose(ground: Ground) -> None:
    """So is one whose days have ended."""
    feed, address = ground.feed()
    fetch(address)
    ground.clock.forward(days=5)
    Feed.objects.filter(pk=feed.pk).update(ends_on=ground.clock.now.date())
    assert silent(ground) == [("feed", "phone")]
    ground.clock.forward(days=1)
    assert silent(ground) == []
    Feed.objects.filter(pk=feed.pk).update(ends_on=None)
    assert silent(ground) == [("feed", "phone")]
    feed_stop(actor=ground.cast.teacher, feed=feed)
    assert silent(ground) == []


def test_calendars_that_cannot_be_read(ground: Ground) -> None:
    """One's own are nobody else's business; the school's are of whoever keeps them. An hour's failure is none."""
    cast, now = ground.cast, ground.clock.now
    given = {
        "district": cast.district,
        "address": "https://x.example/a.ics",
        "problem": "No answer.",
        "read_at": now,
    }
    own = BusyCalendar.objects.create(title="Home", teacher=cast.teacher, **given)
    CalendarSource.objects.create(title="Website", keeper=cast.coordinator, **given)
    assert silent(ground) == []
    ground.clock.forward(hours=25)
    assert silent(ground) == [("own", "Home"), ("school", "Website")]
    assert silent(ground, cast.coordinator) == [("school", "Website")]
    assert silent(ground, cast.office) == silent(ground, cast.stranger) == []
    assert "Not read for 1 day. No answer." in signed_in(cast.teacher).get(reverse("day")).text
    BusyCalendar.objects.filter(pk=own.pk).update(problem="", read_at=ground.clock.now)
    assert silent(ground) == [("school", "Website")]
