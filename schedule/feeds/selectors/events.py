"""What stands in a feed now, from the published weeks and the calendar."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from uuid import UUID, uuid5

from django.db.models import Q
from django.urls import reverse

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.calendar.models import CalendarEntry
from schedule.calendar.selectors.covers import Covers, covers_between
from schedule.calendar.selectors.school_days import minutes_of, time_of
from schedule.calendar.words import listed, period_title
from schedule.feeds.build import Category, FeedEvent
from schedule.feeds.models import Feed
from schedule.feeds.selectors.rows import (
    FeedBuilding,
    ItemRow,
    SessionRow,
    Window,
    is_shared,
    item_rows,
    places_of,
    rows_of_days,
    session_rows,
    students_shown,
)
from schedule.feeds.selectors.scope import OWN_DAYS, feed_zone, unwanted_categories
from schedule.weeks.day_truth import Part
from schedule.weeks.models import DayItem
from schedule.weeks.planning.load import buildings_taught, lines_of
from schedule.weeks.selectors.day_shapes import (
    AsHeld,
    StraightLeg,
    item_part,
    session_part,
    sessions_as_held,
    shapes_of,
    straight_legs,
)
from schedule.weeks.selectors.told.joint import joint_between

# How the planner's ids of make-ups begin (schedule.weeks.planning.make_up_services).
MAKE_UP = "make-up-"
# UIDs of what has no row of its own that outlives a version of a week.
UIDS = UUID("2f6b7e7a-9d3c-5c0e-9a60-3f5a3c1d8e42")
# Numbers and moments come later, from the kept items.
UNCHANGED = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
ITEM_CATEGORIES = {
    DayItem.Kind.DRIVE: Category.DRIVE,
    DayItem.Kind.LUNCH: Category.LUNCH,
    DayItem.Kind.PREPARATION: Category.PREPARATION,
    DayItem.Kind.MEETING: Category.MEETING,
}
WITH_ALARM = {Category.SESSION, Category.MAKE_UP, Category.MEETING}


def feed_events(feed: Feed, window: Window) -> tuple[FeedEvent, ...]:
    """Every event of the feed between two dates, unnumbered: `sequence` 0 and a fixed moment of change."""
    return _Reading(feed, window).events() if window[0] <= window[1] else ()


def _log_path(uid: str) -> str:
    """Where a session is logged, once one has signed in."""
    return f"{reverse('log_session')}?uid={uid}"


def _part(row: SessionRow | ItemRow) -> Part:
    if isinstance(row, SessionRow):
        return session_part(row.start, row.end, row.building, row.uid, row.students_from)
    return item_part(row.kind, row.start, row.end, row.building, row.origin)


def _straight(teacher: int, date: dt.date, leg: StraightLeg) -> ItemRow:
    return ItemRow(
        date=date,
        kind=DayItem.Kind.DRIVE.value,
        start=time_of(leg.start),
        end=time_of(leg.end),
        origin=leg.origin.pk,
        building=leg.building.pk,
        drive_minutes=leg.minutes,
        miles=leg.miles or Decimal(0),
        title="",
        teacher=teacher,
    )


def _minutes(row: ItemRow) -> str:
    return "an unknown time" if row.drive_minutes is None else f"{row.drive_minutes} minutes"


def _what(row: ItemRow) -> str:
    """What tells an item from the others of its day: a drive's ends, a meeting's title, else kind and place."""
    ends = {
        DayItem.Kind.DRIVE.value: f"{row.origin}-{row.building}",
        DayItem.Kind.MEETING.value: row.title,
        DayItem.Kind.LUNCH.value: "",
    }
    return f"{row.teacher}:{row.date}:{row.kind}:{ends.get(row.kind, str(row.building))}"


def _items_at(
    rows: Mapping[dt.date, Sequence[SessionRow | ItemRow]], places: Mapping[dt.date, Iterable[int]]
) -> frozenset[ItemRow]:
    """The items among a day's rows at these places."""
    found = (rows[date][at] for date, day in places.items() for at in day)
    return frozenset(row for row in found if isinstance(row, ItemRow))


class _Reading:
    """One reading of one feed."""

    def __init__(self, feed: Feed, window: Window) -> None:
        self.feed = feed
        self.window = window
        self.own = feed.kind in OWN_DAYS
        self.sessions = session_rows(feed, window)
        self.items = item_rows(feed, window) if self.own else []
        self.students = students_shown(feed, window)
        self.places = places_of(feed.district_id, self._building_ids())
        self.schools = self._schools()
        self.entries = self._entries()
        self.off, self.elsewhere, self.straight = self._decided()
        self.zone = feed_zone(feed)
        self.zones = {row.date: self.places[row.building].zone for row in reversed(self.sessions)}
        teachers = list(Person.objects.filter(pk__in={row.teacher for row in self.sessions}))
        self.teachers = {row.pk: str(row) for row in teachers}
        self.covers = (
            covers_between(list(self.teachers), *window) if feed.kind != Feed.Kind.SUBSTITUTE else Covers()
        )
        self.held = self._held(teachers)
        self.joint = joint_between(feed.teacher, *window) if self.own and feed.teacher is not None else {}
        self.leaving: dict[int, dt.time] = {}
        self.notes = self._travel_notes() if feed.drives == Feed.Drives.NOTE else {}

    def events(self) -> tuple[FeedEvent, ...]:
        """Sessions, what lies between them, and special days."""
        found: dict[str, FeedEvent] = {}
        for event in [*map(self._session, self.sessions), *self._item_events(), *map(self._entry, self.entries)]:
            # A session that was taken over into another week keeps its uid there; the second needs one of its own.
            uid = event.uid if event.uid not in found else str(uuid5(UIDS, f"{event.uid}:{event.start}"))
            found[uid] = replace(event, uid=uid)
        return tuple(found.values())

    def _decided(self) -> tuple[frozenset[ItemRow], frozenset[ItemRow], list[ItemRow]]:
        """What doesn't take place, what can't where it was planned, and drives past what is left out."""
        teacher = self.feed.teacher
        if not self.own or teacher is None:
            return frozenset(), frozenset(), []
        shared = is_shared(self.feed)
        rows = self._by_date(shared=shared)
        parts = {date: [_part(row) for row in day] for date, day in rows.items()}
        shapes = shapes_of(teacher, parts, self.feed.reader if shared else None)
        off = _items_at(rows, {date: shape.off for date, shape in shapes.items()})
        elsewhere = _items_at(rows, {date: shape.elsewhere for date, shape in shapes.items()})
        legs = straight_legs(teacher, shapes)
        return off, elsewhere, [_straight(teacher.pk, date, leg) for date in sorted(legs) for leg in legs[date]]

    def _by_date(self, *, shared: bool) -> dict[dt.date, list[SessionRow | ItemRow]]:
        """What is planned on each day: of a cover of some sessions the whole day, since drives lie between all."""
        sessions = rows_of_days(self.feed, self.window) if shared else self.sessions
        rows: dict[dt.date, list[SessionRow | ItemRow]] = defaultdict(list)
        planned: list[SessionRow | ItemRow] = [*sessions, *self.items]
        for row in planned:
            rows[row.date].append(row)
        return rows

    def _held(self, teachers: Iterable[Person]) -> dict[tuple[UUID, dt.date], AsHeld]:
        """What each session comes to. A building's feed names no student and says no reason."""
        days: dict[int, dict[dt.date, list[Part]]] = defaultdict(lambda: defaultdict(list))
        for row in self.sessions:
            days[row.teacher][row.date].append(_part(row))
        found: dict[tuple[UUID, dt.date], AsHeld] = {}
        for one in teachers:
            found |= sessions_as_held(one, days[one.pk])
        return found

    def _is_off(self, row: SessionRow) -> bool:
        """Whether a session doesn't take place, or the log says that nobody was taught in it."""
        held = self.held[row.uid, row.date]
        return held.off is not None or held.untaught

    def _times(self, row: SessionRow) -> tuple[dt.time, dt.time]:
        """From when to when it is held: what is left of it."""
        short = self.held[row.uid, row.date].short
        return (row.start, row.end) if short is None else (time_of(short.start), time_of(short.end))

    def _schools(self) -> dict[int, FeedBuilding]:
        """Those from which students come to another building."""
        came = {one.students_from for one in self.sessions if one.students_from is not None}
        return places_of(self.feed.district_id, came) if came else {}

    def _building_ids(self) -> set[int]:
        ids = {row.building for row in self.sessions}
        ids |= {pk for row in self.items for pk in (row.origin, row.building) if pk is not None}
        return ids | (self._taught() if self.own else self._home())

    def _taught(self) -> set[int]:
        """Where the teacher will go once a week is published: what closes there is known before."""
        if self.feed.teacher is None:
            return set()
        return {one.pk for one in buildings_taught(lines_of(self.feed.teacher, *self.window), *self.window)}

    def _home(self) -> set[int]:
        school_class = self.feed.school_class
        own = self.feed.building_id or (school_class.building_id if school_class is not None else None)
        return {own} if own else set()

    def _entries(self) -> list[CalendarEntry]:
        rows = CalendarEntry.objects.filter(
            Q(building=None) | Q(building__in=list(self.places)),
            district_id=self.feed.district_id,
            first_date__lte=self.window[1],
            last_date__gte=self.window[0],
        )
        return list(rows.order_by("first_date", "pk"))

    # ---- sessions ------------------------------------------------------------------------------------

    def _session(self, row: SessionRow) -> FeedEvent:
        place = self.places[row.building]
        path = _log_path(str(row.uid)) if self.own else ""
        category = Category.MAKE_UP if row.key.startswith(MAKE_UP) else Category.SESSION
        start, end = self._times(row)
        return FeedEvent(
            uid=str(row.uid),
            sequence=0,
            changed=UNCHANGED,
            start=dt.datetime.combine(row.date, start),
            end=dt.datetime.combine(row.date, end),
            zone=place.zone,
            summary=self._summary(row, place, category),
            category=category,
            description=self._description(row, path),
            location=place.location(row.space or ""),
            latitude=place.latitude,
            longitude=place.longitude,
            address=f"{self.feed.site}{path}" if path else "",
            canceled=self._is_off(row),
            alarm_minutes=self.feed.alarm_minutes,
            leave_alarm_minutes=self._leave_alarm(row),
        )

    def _leave_alarm(self, row: SessionRow) -> int | None:
        """Minutes before the session, so that it comes before its drive; a drive that is an event has it itself."""
        leaves = self.leaving.get(row.pk)
        if leaves is None or self.feed.leave_alarm_minutes is None:
            return None
        return self.feed.leave_alarm_minutes + minutes_of(self._times(row)[0]) - minutes_of(leaves)

    def _summary(self, row: SessionRow, place: FeedBuilding, category: Category) -> str:
        shown = ", ".join(self.students.get(row.pk, ()))
        if self.feed.kind == Feed.Kind.BUILDING:
            there = f" ({place.name})" if row.building != self.feed.building_id else self._whose(row, ", ")
            return f"{self._who(row)}: {row.space or 'space not set'}{there}"
        if self.feed.kind == Feed.Kind.CLASS:
            return f"Adapted PE with {self._who(row)}" + (f": {shown}" if shown else "")
        what = row.class_name or self._without_class(row)
        what = f"Make-up, {what}" if category is Category.MAKE_UP else what
        return f"{what}{': ' if shown else ''}{shown} ({place.name})"

    def _whose(self, row: SessionRow, before: str = "") -> str:
        """From which school students come to another building."""
        school = self.schools.get(row.students_from or 0)
        return f"{before}students of {school.name}" if school is not None else ""

    def _who(self, row: SessionRow) -> str:
        """Who comes: the teacher, or whoever stands in."""
        stands_in = self.covers.who_comes(row.date, row.uid, row.teacher)
        teacher = self.teachers[row.teacher]
        return f"{stands_in} for {teacher}" if stands_in else teacher

    def _without_class(self, row: SessionRow) -> str:
        """The setting says something of a student: only where the subscriber chose so."""
        return ServiceLine.Setting(row.setting).label if self.feed.says_setting else "Adapted PE"

    def _description(self, row: SessionRow, path: str) -> str:
        lines = []
        when = ", ".join(part for part in (period_title(row.period), row.cycle_day) if part)
        lines += [when] if when else []
        whose = self._whose(row) if self.own else ""
        lines += [f"{whose[0].upper()}{whose[1:]}."] if whose else []
        stands_in = self.covers.who_comes(row.date, row.uid, row.teacher) if self.own else ""
        lines += [f"{stands_in} stands in."] if stands_in else []
        together = self.joint.get(str(row.uid), ())
        lines += [f"Together with {listed(together)}."] if together else []
        lines += self.notes.get(row.pk, [])
        lines += [f"Log: {self.feed.site}{path}"] if path else []
        return "\n".join(lines)

    def _sessions_by_day(self) -> Mapping[tuple[int, dt.date], list[SessionRow]]:
        """What is held, by teacher and date."""
        days: dict[tuple[int, dt.date], list[SessionRow]] = defaultdict(list)
        for row in self.sessions:
            if not self._is_off(row):
                days[row.teacher, row.date].append(row)
        return days

    def _travel_notes(self) -> dict[int, list[str]]:
        """Drives as sentences on the session that follows, or on the last one before where none does."""
        days = self._sessions_by_day()
        found: dict[int, list[str]] = defaultdict(list)
        drives = [item for item in self.items if item.kind == DayItem.Kind.DRIVE and item not in self.off]
        for item in sorted((*drives, *self.straight), key=lambda one: (one.date, one.start)):
            day = days.get((item.teacher, item.date), [])
            after = next((row for row in day if row.start >= item.end), None)
            held = after or next(iter(reversed(day)), None)
            if held is not None:
                found[held.pk].append(self._travel_sentence(item, before=after is not None))
            if after is not None:
                self.leaving.setdefault(after.pk, item.start)
        return found

    def _travel_sentence(self, item: ItemRow, *, before: bool) -> str:
        origin, goal = self._name(item.origin), self._name(item.building)
        return (
            f"Travel {'before' if before else 'after'}: leave {origin} at {item.start:%H:%M}, "
            f"{_minutes(item)} to {goal}."
        )

    def _name(self, building: int | None) -> str:
        return self.places[building].name if building is not None and building in self.places else "where you are"

    # ---- what lies between ---------------------------------------------------------------------------

    def _item_events(self) -> list[FeedEvent]:
        """What is shown, named by what it is: a drive by its ends, so that a new stop doesn't rename the others."""
        straight = [] if Category.DRIVE in unwanted_categories(self.feed) else self.straight
        counts: dict[str, int] = defaultdict(int)
        found = []
        for row in [*self.items, *straight]:
            what = _what(row)
            counts[what] += 1
            if self._is_shown(row):
                found.append(self._item(row, f"{what}:{counts[what]}"))
        return found

    def _is_shown(self, row: ItemRow) -> bool:
        category = ITEM_CATEGORIES[DayItem.Kind(row.kind)]
        return category not in unwanted_categories(self.feed) and row not in self.off

    def _item(self, row: ItemRow, key: str) -> FeedEvent:
        category = ITEM_CATEGORIES[DayItem.Kind(row.kind)]
        building = None if row in self.elsewhere else row.building
        place = self.places.get(building) if building is not None else None
        is_drive = category is Category.DRIVE
        return FeedEvent(
            uid=str(uuid5(UIDS, f"item:{key}")),
            sequence=0,
            changed=UNCHANGED,
            start=dt.datetime.combine(row.date, row.start),
            end=dt.datetime.combine(row.date, row.end),
            zone=place.zone if place else self.zones.get(row.date, self.zone),
            summary=self._item_summary(row),
            category=category,
            description=f"{_minutes(row)} at the wheel, {row.miles} miles." if is_drive else "",
            location=place.location() if place else "",
            latitude=place.latitude if place else None,
            longitude=place.longitude if place else None,
            alarm_minutes=self._item_alarm(category),
        )

    def _item_alarm(self, category: Category) -> int | None:
        if category is Category.DRIVE:
            return self.feed.leave_alarm_minutes
        return self.feed.alarm_minutes if category in WITH_ALARM else None

    def _item_summary(self, row: ItemRow) -> str:
        if row.kind == DayItem.Kind.DRIVE:
            return f"Drive to {self._name(row.building)}"
        return row.title or DayItem.Kind(row.kind).label

    # ---- special days --------------------------------------------------------------------------------

    def _entry(self, row: CalendarEntry) -> FeedEvent:
        place = self.places.get(row.building_id) if row.building_id is not None else None
        what = CalendarEntry.Kind(row.kind).label.partition(" (")[0]
        where = place.name if place else "all schools"
        return FeedEvent(
            uid=str(uuid5(UIDS, f"entry:{row.pk}")),
            sequence=0,
            changed=UNCHANGED,
            start=row.first_date,
            end=row.last_date + dt.timedelta(days=1),
            zone=place.zone if place else self.zone,
            summary=f"{what}: {where}" + (f" ({row.title})" if row.title else ""),
            category=Category.CLOSURE,
            location=place.location() if place else "",
            transparent=True,
        )
