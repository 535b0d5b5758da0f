"""Versions of feeds: what may have changed is marked at once, what did change is found at the next fetch.

A write marks the feeds that it may show in (`feeds_touch`), in its own transaction. The next fetch reads the events
again, numbers those that read differently (`schedule.feeds.changes`) with the moment of the mark, and builds the
bytes once for everybody. A mark that changed nothing leaves number, stamp, bytes and ETag as they were.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.feeds.build import EMPTY_AFTER_END, FeedEvent, build_feed, in_window
from schedule.feeds.build import FeedHeading as FeedContent
from schedule.feeds.changes import event_from_json, event_to_json, first_date, reconcile
from schedule.feeds.models import Feed, FeedBody, FeedItem
from schedule.feeds.selectors.events import feed_events
from schedule.feeds.selectors.scope import feed_name, feed_window, feed_zone, unwanted_categories
from travel.places.models import Building

KEEP_ITEMS = dt.timedelta(days=400)
# Rises when the same events are to be written differently.
FORMAT = 3
ONE_SECOND = dt.timedelta(seconds=1)
KEPT_FIELDS = ("uid", "sequence", "changed_at", "cancelled", "content")
ITEM_FIELDS = ["sequence", "changed_at", "cancelled", "is_gone", "first_date", "last_date", "content"]


def feeds_touch(feeds: QuerySet[Feed]) -> int:
    """Mark feeds that a change may show in; call it in the transaction of the change. Returns how many."""
    with transaction.atomic():
        # In one order always, so that two writers never wait for each other.
        rows = feeds.filter(stopped_at=None).order_by("pk").select_for_update(of=("self",))
        ids = list(rows.values_list("pk", flat=True))
        if not ids:
            return 0
        return Feed.objects.filter(pk__in=ids).update(changes=F("changes") + 1, touched_at=_now())


def feeds_of_teacher(teacher_id: int, district_id: int) -> QuerySet[Feed]:
    """Feeds in which a teacher's weeks show."""
    return Feed.objects.filter(Q(teacher_id=teacher_id) | Q(teacher=None), district_id=district_id)


def feeds_of_district(district_id: int | None) -> QuerySet[Feed]:
    """Every feed of a district."""
    return Feed.objects.none() if district_id is None else Feed.objects.filter(district_id=district_id)


def feed_refresh(*, feed_id: int) -> Feed | None:
    """Bring a feed up to date and return it; None if it was stopped or deleted in the meantime.

    One transaction with the feed's row locked: of two fetches at once the second finds the work done.
    """
    with transaction.atomic():
        rows = Feed.objects.select_for_update(of=("self",)).filter(pk=feed_id, stopped_at=None)
        related = ("owner", "teacher", "building__district", "school_class__building__district", "district")
        feed = rows.select_related(*related, "substitution").first()
        if feed is None or (is_current(feed, timezone.now()) and feed.owner.is_active):
            return feed
        _bring_up_to_date(feed)
    return feed


def feed_forget(*, feed_id: int) -> None:
    """Have the bytes built again at the next fetch, the same if nothing was changed."""
    with transaction.atomic():
        rows = Feed.objects.filter(pk=feed_id)
        if feeds_touch(rows):
            rows.update(shown_hash="")


def feed_body(feed: Feed) -> bytes:
    """The bytes of a running feed as it stands now, without the line that says where it is fetched from."""
    current = feed_refresh(feed_id=feed.pk)
    kept = FeedBody.objects.filter(feed=feed, version=current.version).first() if current is not None else None
    if current is None or not current.is_open:
        raise ApplicationError("This feed has ended. Add a new one.", code="feed_stopped")
    if kept is not None:
        return bytes(kept.content)
    feed_forget(feed_id=feed.pk)
    return feed_body(feed)


def shown_between(feed: Feed, first: dt.date, last: dt.date) -> tuple[FeedEvent, ...]:
    """What a running feed shows between two dates (both included), as numbered by its last version."""
    feed_body(feed)
    unwanted = unwanted_categories(feed)
    wanted = [event for event in _kept(feed, is_gone=False).values() if event.category not in unwanted]
    return in_window(wanted, first, last, timezone.now().astimezone(ZoneInfo(feed_zone(feed))).date())


def is_current(feed: Feed, now: dt.datetime) -> bool:
    """Whether the version shows everything that was changed, and its window is still the present one."""
    return feed.built_changes == feed.changes and feed.built_until is not None and now < feed.built_until


# ---- helpers ---------------------------------------------------------------------------------------------


def _now() -> dt.datetime:
    """Now, in whole seconds: that is what calendars and HTTP can say."""
    return timezone.now().replace(microsecond=0)


def _bring_up_to_date(feed: Feed) -> None:
    zone = ZoneInfo(feed_zone(feed))
    now = timezone.now()
    today = now.astimezone(zone).date()
    _set_end(feed)
    feed.is_open = _is_open(feed, today)
    shown = _shown_events(feed, today) if feed.is_open else ()
    feed.closed_at = None if feed.is_open else feed.closed_at or _ended_at(feed, now)
    if feed.is_open:
        _write_version(feed, shown)
    midnight = dt.datetime.combine(today + dt.timedelta(days=1), dt.time(), tzinfo=zone)
    feed.built_changes, feed.built_until = feed.changes, midnight.astimezone(dt.UTC)
    names = [
        "is_open",
        "closed_at",
        "ends_on",
        "built_changes",
        "built_until",
        "version",
        "shown_hash",
        "body_hash",
    ]
    feed.save(update_fields=[*names, "modified_at"])


def _set_end(feed: Feed) -> None:
    if feed.substitution is not None:
        feed.ends_on = feed.substitution.last_date


def _is_open(feed: Feed, today: dt.date) -> bool:
    """Whether the owner may still have what the feed shows."""
    owner = feed.reader
    if not owner.is_active or owner.district_id != feed.district_id:
        return False
    if feed.kind == Feed.Kind.TEACHER:
        return owner.pk == feed.teacher_id and owner.role == Person.Role.TEACHER
    if feed.kind == Feed.Kind.SUBSTITUTE:
        return _stands_in(feed, today)
    return _sees_building(feed)


def _stands_in(feed: Feed, today: dt.date) -> bool:
    """Whether the owner stands in, or did a few days ago."""
    stands_in = feed.substitution is not None and feed.substitution.substitute_id == feed.owner_id
    return stands_in and feed.ends_on is not None and today <= feed.ends_on + EMPTY_AFTER_END


def _ended_at(feed: Feed, now: dt.datetime) -> dt.datetime:
    """Since when its owner may no longer see it; a substitute's was empty since the substitution ended."""
    if feed.ends_on is None:
        return now
    after = dt.datetime.combine(feed.ends_on + dt.timedelta(days=1), dt.time(), tzinfo=ZoneInfo(feed_zone(feed)))
    return min(now, after.astimezone(dt.UTC))


def _sees_building(feed: Feed) -> bool:
    building = feed.building or (feed.school_class.building if feed.school_class is not None else None)
    return building is not None and Building.objects.visible_to(feed.reader).filter(pk=building.pk).exists()


def _shown_events(feed: Feed, today: dt.date) -> tuple[FeedEvent, ...]:
    window = feed_window(feed, today)
    hidden = _kept(feed, is_gone=True)
    found = reconcile(
        {**_kept(feed, is_gone=False), **hidden},
        feed_events(feed, window),
        window=window,
        unwanted=unwanted_categories(feed),
        changed_at=feed.touched_at.replace(microsecond=0),
        hidden=hidden.keys(),
    )
    _write_items(feed, found.changed)
    FeedItem.objects.filter(feed=feed, uid__in=found.gone).update(is_gone=True)
    FeedItem.objects.filter(feed=feed, last_date__lt=today - KEEP_ITEMS).delete()
    return in_window(found.events, *window, today)


def _kept(feed: Feed, *, is_gone: bool) -> dict[str, FeedEvent]:
    rows = FeedItem.objects.filter(feed=feed, is_gone=is_gone)
    return {
        uid: event_from_json(content, uid=uid, sequence=sequence, changed=changed, canceled=canceled)
        for uid, sequence, changed, canceled, content in rows.values_list(*KEPT_FIELDS)
    }


def _write_items(feed: Feed, events: Iterable[FeedEvent]) -> None:
    FeedItem.objects.bulk_create(
        [
            FeedItem(
                feed=feed,
                uid=event.uid,
                sequence=event.sequence,
                changed_at=event.changed,
                cancelled=event.canceled,
                first_date=first_date(event),
                last_date=event.last_date,
                content=event_to_json(event),
            )
            for event in events
        ],
        update_conflicts=True,
        unique_fields=["feed", "uid"],
        update_fields=ITEM_FIELDS,
        batch_size=500,
    )


def _write_version(feed: Feed, shown: tuple[FeedEvent, ...]) -> None:
    """The next version, if anything shown differs from the one before."""
    name, zone = feed_name(feed), feed_zone(feed)
    marks = sorted((event.uid, event.sequence) for event in shown)
    shown_hash = hashlib.sha256(json.dumps([FORMAT, name, zone, marks]).encode()).hexdigest()
    if shown_hash == feed.shown_hash:
        return
    body = build_feed(FeedContent(name, shown, zone=zone))
    body_hash = hashlib.sha256(body).hexdigest()
    feed.shown_hash = shown_hash
    if body_hash != feed.body_hash or not FeedBody.objects.filter(feed=feed).exists():
        feed.version += 1
        feed.body_hash = body_hash
        touched = feed.touched_at.replace(microsecond=0)
        feed.modified_at = max(touched, feed.modified_at + ONE_SECOND) if feed.modified_at else touched
        values = {"version": feed.version, "content": body}
        FeedBody.objects.update_or_create(feed=feed, defaults=values)
