"""How many feeds there are, for whoever watches the program: counts of all districts, nothing of any."""

import datetime as dt

from schedule.feeds.models import Feed


def feed_counts(now: dt.datetime) -> list[tuple[str, int]]:
    """Those that run, those of them that a calendar fetched within a day, and those that were stopped."""
    running = Feed.objects.filter(stopped_at__isnull=True, is_open=True)
    fetched = running.filter(last_fetched_at__gte=now - dt.timedelta(days=1))
    stopped = Feed.objects.filter(stopped_at__isnull=False)
    return [("running", running.count()), ("fetched within a day", fetched.count()), ("stopped", stopped.count())]
