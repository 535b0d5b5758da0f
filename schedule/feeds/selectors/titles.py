"""Titles that somebody wrote and a feed shows as they are, with a student's name in them."""

import re
from collections.abc import Collection, Iterable

from caseload.plans.models import Student
from schedule.feeds.build import Category
from schedule.feeds.models import Feed, FeedItem

WRITTEN = (Category.MEETING.value, Category.CLOSURE.value)
# Of names with fewer letters most hits are other words.
SHORTEST = 3
_WORD = re.compile(r"[^\W\d_]+(?:['\u2019-][^\W\d_]+)*")


def titles_with_names(feed: Feed) -> tuple[str, ...]:
    """Those of the version that was built last that hold a name of a student whom the owner sees, each once."""
    if feed.stopped_at is not None:
        return ()
    items = FeedItem.objects.filter(feed=feed, is_gone=False, content__category__in=WRITTEN)
    titles = dict.fromkeys(items.order_by("first_date").values_list("content__summary", flat=True))
    names = _names_seen(feed) if titles else frozenset()
    return tuple(title for title in titles if holds_name(title, names))


def holds_name(title: str, names: Collection[str]) -> bool:
    """Whether one of the names stands in a title as a word of its own, a possessive included."""
    return any(word.removesuffix("'s").removesuffix("\u2019s") in names for word in _WORD.findall(title))


def _names_seen(feed: Feed) -> frozenset[str]:
    rows: Iterable[tuple[str, str]] = Student.objects.visible_to(feed.owner).values_list("first_name", "last_name")
    return frozenset(word for pair in rows for word in _WORD.findall(" ".join(pair)) if len(word) >= SHORTEST)
