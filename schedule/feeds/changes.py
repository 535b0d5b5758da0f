"""What changed in a feed since it was last written: sequence numbers and stamps from the differences alone.

Pure: the events as they stand now and those kept from before go in, what to keep comes out. An event that reads as
it did keeps its number and its moment, whoever asks and however often; one that reads differently gets the next
number (RFC 5545 section 3.8.7.4) and the moment of the change that was made.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from schedule.feeds.build import Category, FeedEvent

# What people would still come to; a lunch or a drive that is no more just goes.
SAID_WHEN_CANCELED = frozenset({Category.SESSION, Category.MAKE_UP, Category.MEETING})
LAST_MODIFIED_STEP = dt.timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Reconciled:
    """What a feed holds now. `changed` are those to be written, `gone` the UIDs that show no more."""

    events: tuple[FeedEvent, ...]
    changed: tuple[FeedEvent, ...]
    gone: tuple[str, ...]


def first_date(event: FeedEvent) -> dt.date:
    """The date on which an event begins."""
    return event.start.date() if isinstance(event.start, dt.datetime) else event.start


def reads_alike(one: FeedEvent, other: FeedEvent) -> bool:
    """Whether two events show the same, number and moment of change apart."""
    return replace(one, sequence=0, changed=other.changed) == replace(other, sequence=0)


def reconcile(
    kept: Mapping[str, FeedEvent],
    now: Iterable[FeedEvent],
    *,
    window: tuple[dt.date, dt.date],
    unwanted: frozenset[Category],
    changed_at: dt.datetime,
    hidden: Collection[str] = frozenset(),
) -> Reconciled:
    """Number the events of `now` by those kept from before.

    `changed_at` (aware, UTC) is the moment of the last change that may have led here. An event within the `window`
    that is no longer there is canceled, or just goes if nobody would come to it or the subscriber doesn't want its
    kind anymore (`unwanted`). Kept events outside the window stay as they are. Those of `hidden` are kept for their
    number alone: one that returns gets the next.
    """
    found = {event.uid: event for event in now}
    numbered = {
        uid: _numbered(kept.get(uid), event, changed_at, returns=uid in hidden) for uid, event in found.items()
    }
    gone = []
    for uid, event in kept.items():
        if uid in found or uid in hidden or not _is_within(event, window):
            continue
        if event.category in SAID_WHEN_CANCELED - unwanted:
            numbered[uid] = _numbered(event, replace(event, canceled=True), changed_at)
        else:
            gone.append(uid)
    changed = tuple(event for uid, event in numbered.items() if kept.get(uid) != event)
    return Reconciled(tuple(numbered.values()), changed, tuple(gone))


def _is_within(event: FeedEvent, window: tuple[dt.date, dt.date]) -> bool:
    return event.last_date >= window[0] and first_date(event) <= window[1]


def _numbered(
    before: FeedEvent | None, event: FeedEvent, changed_at: dt.datetime, *, returns: bool = False
) -> FeedEvent:
    if before is None:
        return replace(event, sequence=0, changed=changed_at)
    if not returns and reads_alike(event, before):
        return before
    later = max(changed_at, before.changed + LAST_MODIFIED_STEP)
    return replace(event, sequence=before.sequence + 1, changed=later)


# ---- as JSON ---------------------------------------------------------------------------------------------


def event_to_json(event: FeedEvent) -> dict[str, Any]:
    """What an event shows, without what a row keeps in fields of its own (uid, sequence, changed, canceled)."""
    shown: dict[str, Any] = {
        "start": event.start.isoformat(),
        "end": event.end.isoformat(),
        "zone": event.zone,
        "summary": event.summary,
        "category": event.category.value,
    }
    for name in ("description", "location", "address", "transparent", "alarm_minutes", "leave_alarm_minutes"):
        value = getattr(event, name)
        # By identity: an alarm 0 minutes before is an alarm.
        if value is not None and value is not False and value != "":
            shown[name] = value
    if event.latitude is not None and event.longitude is not None:
        shown["place"] = [str(event.latitude), str(event.longitude)]
    return shown


def event_from_json(
    shown: Mapping[str, Any], *, uid: str, sequence: int, changed: dt.datetime, canceled: bool
) -> FeedEvent:
    """An event from what `event_to_json` wrote and what its row keeps."""
    plain = dict(shown)
    latitude, longitude = plain.pop("place", (None, None))
    return FeedEvent(
        uid=uid,
        sequence=sequence,
        changed=changed,
        canceled=canceled,
        start=_moment(plain.pop("start")),
        end=_moment(plain.pop("end")),
        category=Category(plain.pop("category")),
        latitude=None if latitude is None else Decimal(latitude),
        longitude=None if longitude is None else Decimal(longitude),
        **plain,
    )


def _moment(text: str) -> dt.datetime | dt.date:
    return dt.datetime.fromisoformat(text) if "T" in text else dt.date.fromisoformat(text)
