"""Titles that somebody wrote and a feed shows as they are, with a student's name in them."""

from caseload.plans.names import names_written
from schedule.feeds.build import Category
from schedule.feeds.models import Feed, FeedItem

WRITTEN = (Category.MEETING.value, Category.CLOSURE.value)


def titles_with_names(feed: Feed) -> tuple[str, ...]:
    """Those of the version that was built last that hold a name of a student whom the owner sees, each once."""
    if feed.stopped_at is not None:
        return ()
    items = FeedItem.objects.filter(feed=feed, is_gone=False, content__category__in=WRITTEN)
    titles = dict.fromkeys(items.order_by("first_date").values_list("content__summary", flat=True))
    held = names_written(feed.reader, titles)
    return tuple(title for title in titles if held.get(title))
