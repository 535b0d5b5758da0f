"""Turn what is told about a week (`schedule.weeks.data`) into what a strip draws."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from schedule.calendar.words import period_title
from schedule.weeks.data import (
    AttendeeView,
    DayDetail,
    ItemView,
    PlaceView,
    SessionOption,
    SessionView,
    UnplacedView,
    WeekDetail,
)
from schedule.weeks.strip.road import road_order
from schedule.weeks.strip.shapes import BlockKind, StripBlock, StripDay, StripDrive, StripPlace, Target
from schedule.weeks.strip.words import clock
from travel.places.naming import school_labels

NOTHING, NOTHING_HERE = "Nothing planned", "No session here"

type Link = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class BuildingFacts:
    """What a drawing needs of a building. Coordinates in degrees, ``None`` where unknown; ``leave`` in minutes."""

    latitude: float | None
    longitude: float | None
    leave: int


@dataclass(frozen=True, slots=True)
class StripChoice:
    """A session (or an unplaced one) being looked at, with where it could go. ``link`` takes an option's number."""

    uid: str
    options: tuple[SessionOption, ...]
    link: Link


def no_link(uid: str) -> str:
    """For drawings in which nothing can be chosen."""
    return ""


def _coordinates(places: Iterable[PlaceView], facts: Mapping[int, BuildingFacts]) -> dict[str, tuple[float, float]]:
    """Latitude and longitude of the places that have them."""
    return {
        str(place.id): (fact.latitude, fact.longitude)
        for place in places
        if (fact := facts.get(place.id)) is not None and fact.latitude is not None and fact.longitude is not None
    }


def strip_places(places: Sequence[PlaceView], facts: Mapping[int, BuildingFacts]) -> tuple[StripPlace, ...]:
    """The buildings along the road; those without coordinates come last, by name."""
    known = _coordinates(places, facts)
    order = road_order(known)
    end = order[-1][1] if order else 0.0
    order += [
        (str(place.id), end) for place in sorted(places, key=lambda one: one.name) if str(place.id) not in known
    ]
    by_key = {str(place.id): place for place in places}
    names = [place.name for place in places]
    return tuple(
        StripPlace(key, by_key[key].name, school_labels(by_key[key].name, names), along) for key, along in order
    )


def strip_days(
    detail: WeekDetail,
    facts: Mapping[int, BuildingFacts],
    *,
    link: Link = no_link,
    choice: StripChoice | None = None,
    names: bool = True,
    whole: bool = True,
) -> tuple[StripDay, ...]:
    """The days of a week; a weekend day only if something is on it.

    ``names``: students are named. ``whole``: the week isn't cut down to a building.
    """
    shown = detail.students_shown
    return tuple(
        _as_shown(_day(day, facts, link, choice, names=names and shown), whole=whole and shown)
        for day in detail.days
        if day.date.weekday() < 5 or day.entries
    )


def _as_shown(day: StripDay, *, whole: bool) -> StripDay:
    """A day cut down to a building says less: an empty one isn't the teacher's empty day."""
    if whole:
        return day
    return replace(day, whole=False, nothing=day.nothing.replace(NOTHING, NOTHING_HERE))


def _day(
    day: DayDetail, facts: Mapping[int, BuildingFacts], link: Link, choice: StripChoice | None, *, names: bool
) -> StripDay:
    blocks = [_session(session, link, choice, names=names) for session in day.sessions]
    blocks += [_item(item) for item in day.items if item.kind != "drive"]
    drives = tuple(_drive(item, facts) for item in day.items if item.kind == "drive" and not item.off)
    targets = _targets(day.date, choice) if choice else ()
    return StripDay(
        key=day.date.isoformat(),
        name=day.date.strftime("%a"),
        date=f"{day.date:%b} {day.date.day}",
        notes=_notes(day),
        blocks=tuple(blocks),
        drives=drives,
        targets=targets,
        nothing=_nothing(day),
        hours=_hours(day),
    )


def _nothing(day: DayDetail) -> str:
    """Why an empty day is empty; a day of which nothing takes place keeps its sessions, and says so beside them."""
    return "" if day.entries else (day.reason or NOTHING)


def _hours(day: DayDetail) -> tuple[int, int] | None:
    if day.contract_start_minute is None or day.contract_end_minute is None:
        return None
    return day.contract_start_minute, day.contract_end_minute


def _notes(day: DayDetail) -> tuple[str, ...]:
    """At most three short lines beside a day: the cycle day where it rotates, teaching and driving."""
    labels = dict.fromkeys(building.cycle_day for building in day.buildings if building.cycle_day)
    first = " · ".join(labels)
    notes = [first] if first and len(first) <= 14 else []
    if day.is_off:
        return (*notes, "Off")
    if day.held:
        notes.append(f"{day.session_minutes} min taught")
    if day.drive_minutes:
        notes.append(f"{day.drive_minutes} min driven")
    return tuple(notes)


SETTING_LABELS = {
    "own_class": ("Own class", "Class"),
    "push_in": ("Pushed into class", "Push-in"),
    "small_group": ("Small group", "Group"),
    "one_to_one": ("One to one", "1 to 1"),
}
"""For drawings without students: a wall isn't told who."""


def session_labels(session: SessionView, *, names: bool) -> tuple[str, ...]:
    """What a session's box may say, from the fullest to the shortest."""
    room = (session.class_name,) if session.class_name else ()
    if not names:
        return room or SETTING_LABELS.get(session.setting, (session.setting_label,))
    if not session.attendees:
        return room or (session.label,)
    return (*room, *_people_labels(session.attendees))


def _people_labels(people: Sequence[AttendeeView]) -> tuple[str, ...]:
    if len(people) == 1:
        return people[0].who, people[0].short or people[0].who, people[0].tight or people[0].who
    first_names = ", ".join(one.short or one.who for one in people)
    tight = " ".join(one.tight or one.who for one in people)
    return first_names, tight, f"{len(people)} students", f"{len(people)}"


def session_words(session: SessionView, *, names: bool) -> str:
    """A session in one sentence, for ears."""
    who = session.class_name or (session.label if names else session.setting_label)
    if names and session.attendees:
        people = ", ".join(one.who for one in session.attendees)
        who = f"{session.class_name}: {people}" if session.class_name else people
    where = _where_words(session)
    pinned = ", pinned" if session.pinned else ""
    setting = "" if who == session.setting_label else f", {session.setting_label.lower()}"
    return f"{session.date:%A} {_span(session)}, {who}{setting}, {where}{pinned}{_off_words(session)}"


def _where_words(session: SessionView) -> str:
    whose = f"students of {session.students_from}" if session.students_from else ""
    return ", ".join(part for part in (session.building_name, session.space_name, whose) if part)


def _off_words(thing: SessionView | ItemView) -> str:
    if isinstance(thing, SessionView) and thing.changed and not thing.off:
        return f"; changed: {thing.changed}"
    return f"; canceled: {thing.off}" if thing.off else ""


def _span(thing: SessionView | ItemView) -> str:
    return f"{clock(thing.start_minute)} to {clock(thing.end_minute)}"


def _session(session: SessionView, link: Link, choice: StripChoice | None, *, names: bool) -> StripBlock:
    return StripBlock(
        kind=BlockKind.SESSION,
        start=session.start_minute,
        end=session.end_minute,
        place=str(session.building_id),
        labels=session_labels(session, names=names),
        spoken=session_words(session, names=names),
        key=session.uid,
        setting=session.setting,
        pinned=session.pinned,
        href=link(session.uid),
        chosen=choice is not None and choice.uid == session.uid,
        off=bool(session.off),
    )


_SHORT = {"lunch": ("Lunch",), "preparation": ("Preparation", "Prep"), "meeting": ("Meeting", "Mtg")}


def _item(item: ItemView) -> StripBlock:
    title = (item.title,) if item.title else ()
    what = item.title or item.kind_label
    where = f", {item.building_name}" if item.building_name else ""
    return StripBlock(
        kind=BlockKind(item.kind),
        start=item.start_minute,
        end=item.end_minute,
        place="" if item.building_id is None else str(item.building_id),
        labels=(*title, *_SHORT[item.kind]),
        spoken=f"{item.date:%A} {_span(item)}, {what}{where}{_off_words(item)}",
        key=f"{item.kind}-{item.start_minute}",
        off=bool(item.off),
    )


def _drive(item: ItemView, facts: Mapping[int, BuildingFacts]) -> StripDrive:
    fact = facts.get(item.origin_id or 0)
    slack = max(0, item.minutes - item.drive_minutes)
    return StripDrive(
        start=item.start_minute,
        end=item.end_minute,
        origin=str(item.origin_id),
        destination=str(item.building_id),
        wheel=item.drive_minutes,
        leave=min(fact.leave if fact else 0, slack),
        spoken=(
            f"{item.date:%A} {_span(item)}, drive from {item.origin_name} to {item.building_name}, "
            f"{item.drive_minutes} minutes at the wheel{f' ({item.source_words})' if item.source else ''}, "
            f"{item.miles} miles"
        ),
    )


def _targets(date: dt.date, choice: StripChoice) -> tuple[Target, ...]:
    """One target a moment: of several spaces at one time the first legal one is drawn, the list has them all."""
    drawn: dict[tuple[int, int], Target] = {}
    for number, option in enumerate(choice.options):
        if option.date != date or option.is_now:
            continue
        target = _target(number, option, choice.link)
        moment = (target.start, option.building_id)
        if moment not in drawn or (drawn[moment].warns and not target.warns):
            drawn[moment] = target
    return tuple(drawn.values())


def added(minutes: int) -> str:
    """Added drive minutes as a short label with its sign."""
    if minutes < 0:
        return f"\N{MINUS SIGN}{-minutes}"
    return f"+{minutes}"


def added_words(minutes: int) -> str:
    """Added drive minutes in words."""
    if minutes == 0:
        return "no more driving"
    return f"{abs(minutes)} {'more' if minutes > 0 else 'fewer'} drive minutes"


def option_words(option: SessionOption) -> str:
    """A place for a session in one sentence, for lists and for ears."""
    start = option.start.hour * 60 + option.start.minute
    end = option.end.hour * 60 + option.end.minute
    where = f"{option.building_name}, {option.space_name}" if option.space_name else option.building_name
    period = f" ({period_title(option.period)})" if option.period else ""
    when = f"{option.date:%A} {clock(start)} to {clock(end)}{period}"
    return f"{when}, {where}: {added_words(option.added_drive_minutes)}"


def _target_words(option: SessionOption) -> str:
    """The place and the first rule that stands against it: a list in an ear is too long to choose from."""
    if not option.breaks:
        return option_words(option)
    more = f" (and {len(option.breaks) - 1} more)" if len(option.breaks) > 1 else ""
    return f"{option_words(option)}. It breaks a rule: {option.breaks[0]}{more}"


def option_value(option: SessionOption) -> str:
    """A place for a session as a form sends it: date, start and space, without the space if it has none."""
    return f"{option.date:%Y-%m-%d}|{option.start:%H:%M}|{option.space_id or ''}"


def _target(number: int, option: SessionOption, link: Link) -> Target:
    label = f"{'! ' if option.breaks else ''}{added(option.added_drive_minutes)}"
    return Target(
        key=str(number),
        start=option.start.hour * 60 + option.start.minute,
        end=option.end.hour * 60 + option.end.minute,
        place=str(option.building_id),
        labels=(f"{option.building_short} {label}", f"{label} min", label),
        spoken=_target_words(option),
        href=link(str(number)),
        value=option_value(option),
        warns=bool(option.breaks),
    )


def week_words(detail: WeekDetail) -> str:
    """The drawing in sentences, a day each."""
    return " ".join(_day_words(day) for day in detail.days if day.entries)


def _day_words(day: DayDetail) -> str:
    if day.is_off:
        return f"{day.date:%A}: {day.reason}"
    count, places = len(day.held), len({session.building_id for session in day.held})
    sessions = "1 session" if count == 1 else f"{count} sessions"
    buildings = "1 building" if places == 1 else f"{places} buildings"
    return f"{day.date:%A}: {sessions} in {buildings}, {day.drive_minutes} minutes of driving."


def only_building(detail: WeekDetail, building_id: int) -> WeekDetail:
    """A week cut down to one building: what takes place there, and the drives to it and away from it."""
    return replace(detail, days=tuple(_only_there(day, building_id) for day in detail.days))


def _only_there(day: DayDetail, building_id: int) -> DayDetail:
    sessions = tuple(one for one in day.sessions if building_id in {one.building_id, one.students_from_id})
    items = tuple(item for item in day.items if building_id in {item.building_id, item.origin_id})
    kept = [*sessions, *items]
    entries = tuple(entry for entry in day.entries if entry in kept)
    return replace(day, sessions=sessions, items=items, entries=entries)


def unplaced_words(unplaced: UnplacedView) -> str:
    """Owed sessions without a place in a few words."""
    who = unplaced.who
    count = "1 session" if unplaced.sessions == 1 else f"{unplaced.sessions} sessions"
    return f"{who}: {count}, {unplaced.minutes} minutes of {unplaced.statement}"
