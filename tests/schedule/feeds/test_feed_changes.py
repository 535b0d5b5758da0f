"""Numbers and stamps of a feed's events over random sequences of edits (RFC 5545 sections 3.8.7.2 to 3.8.7.4)."""

import datetime as dt
import json
from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from schedule.calendar.closed_days import ClosedDays, Closing, day_entry
from schedule.feeds.build import Category, FeedEvent
from schedule.feeds.changes import event_from_json, event_to_json, reads_alike, reconcile

MOMENT = dt.datetime(2026, 9, 1, 12, tzinfo=dt.UTC)
DAY = dt.date(2026, 9, 14)
WINDOW = (dt.date(2026, 9, 1), dt.date(2026, 9, 30))


def event(uid: str, hour: int, category: Category = Category.SESSION) -> FeedEvent:
    """An event of the day at an hour."""
    start = dt.datetime.combine(DAY, dt.time(hour))
    return FeedEvent(
        uid=uid, sequence=0, changed=MOMENT, start=start, end=start + dt.timedelta(minutes=30),
        zone="America/New_York", summary=f"At {hour}", category=category,
    )  # fmt: skip


# Uids with their hour: what a plan looks like at one moment.
plans = st.dictionaries(st.sampled_from("abc"), st.integers(8, 11), max_size=3)
steps = st.lists(st.tuples(plans, st.integers(-5, 5)), min_size=1, max_size=12)


@given(steps)
def test_numbers_rise_with_each_change_and_never_otherwise(edits: list[tuple[dict[str, int], int]]) -> None:
    """Also where the clock goes back, a session is canceled and comes again, or nothing was changed."""
    kept: dict[str, FeedEvent] = {}
    moment = MOMENT
    for plan, seconds in edits:
        moment += dt.timedelta(seconds=seconds)
        now = [event(uid, hour) for uid, hour in plan.items()]
        found = reconcile(kept, now, window=WINDOW, unwanted=frozenset(), changed_at=moment)
        after = {one.uid: one for one in found.events}
        assert set(after) == set(kept) | set(plan)
        assert found.gone == ()
        for uid, one in after.items():
            before = kept.get(uid)
            assert one.canceled == (uid not in plan)
            if before is None:
                assert (one.sequence, one.changed) == (0, moment)
            elif reads_alike(before, one):
                assert one == before
                assert one not in found.changed
            else:
                assert one.sequence == before.sequence + 1
                assert one.changed > before.changed
                assert one in found.changed
        kept = after
    again = reconcile(kept, now, window=WINDOW, unwanted=frozenset(), changed_at=moment + dt.timedelta(hours=1))
    assert again.changed == ()
    assert {one.uid: one for one in again.events} == kept


def test_what_nobody_comes_to_just_goes() -> None:
    """A lunch that is no more isn't said to be canceled, nor a drive that the subscriber doesn't want anymore."""
    kept = {"l": event("l", 9, Category.LUNCH), "s": event("s", 9), "m": event("m", 9, Category.MEETING)}
    found = reconcile(kept, [], window=WINDOW, unwanted=frozenset({Category.MEETING}), changed_at=MOMENT)
    assert set(found.gone) == {"l", "m"}
    assert [(one.uid, one.canceled, one.sequence) for one in found.events] == [("s", True, 1)]


def test_what_returns_goes_on_counting() -> None:
    """Also where it reads as it did: calendars dropped it in the meantime (RFC 5545 section 3.8.7.4)."""
    lunch = replace(event("l", 9, Category.LUNCH), sequence=3)
    again = reconcile(
        {"l": lunch}, [event("l", 9, Category.LUNCH)], window=WINDOW, unwanted=frozenset(), changed_at=MOMENT,
        hidden={"l"},
    )  # fmt: skip
    (one,) = again.changed
    assert one.sequence == 4
    assert one.changed > lunch.changed
    still = reconcile({"l": lunch}, [], window=WINDOW, unwanted=frozenset(), changed_at=MOMENT, hidden={"l"})
    assert (still.events, still.changed, still.gone) == ((), (), ())


def test_outside_the_window_nothing_is_said() -> None:
    """What the window has left behind is no cancellation; it stays as it was for when it comes back."""
    kept = {"s": event("s", 9)}
    later = (DAY + dt.timedelta(days=1), DAY + dt.timedelta(days=9))
    found = reconcile(kept, [], window=later, unwanted=frozenset(), changed_at=MOMENT)
    assert (found.events, found.changed, found.gone) == ((), (), ())


@given(st.text(max_size=60), st.booleans(), st.none() | st.integers(0, 90))
def test_kept_as_json_and_back(text: str, transparent: bool, alarm: int | None) -> None:
    """Nothing that shows is lost between two versions."""
    one = replace(
        event("u", 9), summary=text, description=text, location=text, address="https://x.example/", sequence=3,
        transparent=transparent, alarm_minutes=alarm, latitude=Decimal("43.10"), longitude=Decimal("-75.2"),
    )  # fmt: skip
    day = replace(
        event("d", 9), start=DAY, end=DAY + dt.timedelta(days=1), category=Category.CLOSURE, canceled=True
    )
    for kept in (one, day):
        written = json.loads(json.dumps(event_to_json(kept)))
        read = event_from_json(
            written, uid=kept.uid, sequence=kept.sequence, changed=kept.changed, canceled=kept.canceled
        )
        assert read == kept


def test_closed_days() -> None:
    """A building's own entry before the district's; of one rank the one that closes (as in
    schedule.calendar.calendars).
    """
    days = ClosedDays(
        [
            day_entry(None, DAY, DAY + dt.timedelta(days=1), "closed"),
            day_entry(1, DAY, DAY, "early_dismissal"),
            day_entry(2, DAY, DAY, "open"),
            day_entry(2, DAY, DAY, "no_students"),
            day_entry(4, DAY, DAY, "no_students"),
            day_entry(4, DAY, DAY, "closed"),
        ]
    )
    next_day = DAY + dt.timedelta(days=1)
    assert [days.on(building, DAY) for building in (1, 2, 3)] == [False, True, True]
    assert days.on(1, next_day)
    assert [days.closing(building, DAY) for building in (2, 4)] == [Closing.NO_STUDENTS, Closing.CLOSED]
    assert not days.on(1, next_day + dt.timedelta(days=1))
