"""What a feed is of: its first and last date, its name, its zone, and what it leaves out."""

import datetime as dt

from django.db.models import Max

from schedule.calendar.models import SchoolYear
from schedule.feeds.build import Category
from schedule.feeds.models import Feed
from schedule.feeds.selectors.rows import Window, published_weeks

OWN_DAYS = (Feed.Kind.TEACHER, Feed.Kind.SUBSTITUTE)


def feed_window(feed: Feed, today: dt.date) -> Window:
    """First and last date of what the feed shows; the last may lie before the first, and then it shows nothing."""
    first = today - dt.timedelta(days=feed.days_back)
    if feed.days_ahead is not None:
        last = today + dt.timedelta(days=feed.days_ahead)
    else:
        # Sessions end with the published weeks; closings are known to the end of the school year.
        last = max([today, *filter(None, (_last_published(feed), _end_of_year(feed, today)))])
    if feed.substitution is None:
        return first, last
    if feed.substitution.last_date < today:
        return today, today - dt.timedelta(days=1)
    return max(first, feed.substitution.first_date), min(last, feed.substitution.last_date)


def _last_published(feed: Feed) -> dt.date | None:
    last: dt.date | None = published_weeks(feed).aggregate(last=Max("last_date"))["last"]
    return last


def _end_of_year(feed: Feed, today: dt.date) -> dt.date | None:
    """The last day of the school year (or season) that is running, or that comes next."""
    years = SchoolYear.objects.filter(district=feed.district_id, last_day__gte=today).order_by("last_day")
    return years.values_list("last_day", flat=True).first()


def unwanted_categories(feed: Feed) -> frozenset[Category]:
    """Kinds of event that this subscriber doesn't have."""
    if feed.kind in OWN_DAYS:
        return frozenset({Category.DRIVE}) if feed.drives == Feed.Drives.NOTE else frozenset()
    return frozenset({Category.DRIVE, Category.LUNCH, Category.PREPARATION, Category.MEETING})


def feed_name(feed: Feed) -> str:
    """What a calendar program calls the feed."""
    if feed.kind == Feed.Kind.BUILDING:
        return f"Adapted PE at {feed.building}"
    if feed.kind == Feed.Kind.CLASS:
        return f"Adapted PE: {feed.school_class}"
    if feed.kind == Feed.Kind.SUBSTITUTE:
        return f"Covering {feed.teacher}"
    return f"Week of {feed.teacher}"


def feed_zone(feed: Feed) -> str:
    """The zone of what has no building."""
    if feed.building is not None:
        return feed.building.zone
    return feed.school_class.building.zone if feed.school_class is not None else feed.district.time_zone
