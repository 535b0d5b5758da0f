"""Writes of what happened: said once, logged on its days, taken back whole.

`values` are fields of `Happening`; `buildings` a sequence, empty for every school. A delayed opening and an early
dismissal have a time (`end`: when the school opens; `start`: when students go home), or `minutes` by which each
school's own bells move, or neither: then each school's bells of that kind ring. Being late has `minutes` from
`start` (now where none is given).

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.people.services import cover_delete
from accounts.services import NOT_THERE, audit_write, permission_require, record_change
from schedule.calendar.happened import LONGEST, OF_SCHOOLS, HappeningKind
from schedule.calendar.models import CalendarEntry, Happening
from schedule.calendar.selectors.school_days import load_calendars, school_year_of, time_of
from schedule.calendar.services.records import calendar_entry_delete, calendar_entry_save
from schedule.happenings.selectors import as_held_during
from schedule.happenings.services.logged import happening_log, happening_log_withdraw
from schedule.happenings.signals import happening_said, happening_taken_back
from travel.places.models import Building

SAY = "week.change"
ENTRY_OF = {
    HappeningKind.CLOSED: CalendarEntry.Kind.CLOSED,
    HappeningKind.DELAYED_OPENING: CalendarEntry.Kind.DELAYED_OPENING,
    HappeningKind.EARLY_DISMISSAL: CalendarEntry.Kind.EARLY_DISMISSAL,
}
GRADES_NEED_TIME = "Give a time: for some grades only, the school's bells can't say it."
NO_MINUTES = "Give the minutes, such as 20."
NO_BELLS = "{school} has no school day on {date}, so its hours can't move by minutes. Give a time instead."
TOO_LONG = (
    f"This is longer than {LONGEST} days. Give a nearer last day. What is gone for good is said where it is kept, "
    "such as a space's last day at its school, and the term is planned again from then on."
)
LAST_MINUTE = 24 * 60 - 1


def happening_say(
    *, actor: Person, values: Mapping[str, Any], buildings: Sequence[Building] = (), now: dt.datetime | None = None
) -> Happening:
    """Save what happened, with the calendar's entries of it, and log the sessions up to today that fell out.

    A teacher says of no other teacher that somebody is away or late.
    """
    permission_require(actor, SAY)
    given = _complete(actor, dict(values), now)
    row = Happening(district=actor.district, said_by=actor)
    with transaction.atomic():
        first, last = given.get("first_date"), given.get("last_date")
        was = as_held_during(actor, first, last) if first and last else {}
        record_change(actor=actor, row=row, values=given, action="happening_say", permission=SAY)
        _buildings_set(actor, row, buildings)
        _entries_write(actor, row)
        now_held = as_held_during(actor, row.first_date, row.last_date)
        happening_log(row=row, now=now)
        happening_said.send(Happening, happening=row, was=was, now=now_held)
    return row


def happening_take_back(*, actor: Person, row: Happening, now: dt.datetime | None = None) -> Happening:
    """Take back all of it: the calendar's entries, and what was logged by it and wasn't changed since.

    Whoever said it may, the teacher whom it is about, and a coordinator. A second time changes nothing.
    """
    permission_require(actor, SAY)
    _mine_require(actor, row)
    with transaction.atomic():
        kept = Happening.objects.select_for_update().get(pk=row.pk)
        if kept.taken_back_at is not None:
            return kept
        was = as_held_during(actor, kept.first_date, kept.last_date)
        for entry in kept.entries.all():
            calendar_entry_delete(actor=actor, row=entry)
        for cover in kept.covers.all():
            cover_delete(actor=actor, row=cover)
        happening_log_withdraw(row=kept, now=now)
        kept.taken_back_by, kept.taken_back_at = actor, now or timezone.now()
        kept.save()
        audit_write(actor=actor, district=kept.district, action="happening_take_back", row=kept)
        held = as_held_during(actor, kept.first_date, kept.last_date)
        happening_taken_back.send(Happening, happening=kept, was=was, now=held)
    return kept


# ---- what is said ----------------------------------------------------------------------------------------


def _complete(actor: Person, given: dict[str, Any], now: dt.datetime | None) -> dict[str, Any]:
    """Fill in what follows: the last date, one's own name, until when one is late."""
    kind = given.get("kind")
    if given.get("last_date") is None:
        given["last_date"] = given.get("first_date")
    if (
        kind in {HappeningKind.AWAY, HappeningKind.LATE, HappeningKind.AIDE_MISSING}
        and given.get("teacher") is None
        and actor.is_teacher
    ):
        given["teacher"] = actor
    _dates_require(given)
    _time_of_grades_require(kind, given)
    return given | _late(actor, given, now) if kind == HappeningKind.LATE else given


def _time_of_grades_require(kind: Any, given: Mapping[str, Any]) -> None:
    if (
        given.get("grades")
        and kind in OF_SCHOOLS - {HappeningKind.CLOSED}
        and not (given.get("start") or given.get("end"))
    ):
        raise ValidationError({"start" if kind == HappeningKind.EARLY_DISMISSAL else "end": GRADES_NEED_TIME})


def _dates_require(given: Mapping[str, Any]) -> None:
    first, last = given.get("first_date"), given.get("last_date")
    if first and last and (last - first).days > LONGEST:
        raise ValidationError({"last_date": TOO_LONG})


def _late(actor: Person, given: Mapping[str, Any], now: dt.datetime | None) -> dict[str, Any]:
    """From when to when one is late."""
    minutes = given.get("minutes")
    if not minutes:
        raise ValidationError({"minutes": NO_MINUTES})
    zone = ZoneInfo(actor.district.time_zone) if actor.district is not None else dt.UTC
    clock = (now or timezone.now()).astimezone(zone).time().replace(second=0, microsecond=0)
    start = given.get("start") or clock
    end = min(start.hour * 60 + start.minute + minutes, LAST_MINUTE)
    return {"start": start, "end": time_of(end), "last_date": given.get("first_date")}


def _buildings_set(actor: Person, row: Happening, buildings: Sequence[Building]) -> None:
    wanted = {one.pk for one in buildings}
    if Building.objects.changeable_by(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    row.buildings.set(wanted)


def _mine_require(actor: Person, row: Happening) -> None:
    seen = Happening.objects.changeable_by(actor).filter(pk=row.pk).exists()
    if not seen or not (actor.is_coordinator or actor.pk in {row.said_by_id, row.teacher_id}):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


# ---- the calendar's entries ------------------------------------------------------------------------------


def _entries_write(actor: Person, row: Happening) -> None:
    """One entry for every school, or for each; where only some grades are out the calendar has none."""
    if HappeningKind(row.kind) not in OF_SCHOOLS or row.grades:
        return
    for building in _places(row):
        calendar_entry_save(
            actor=actor,
            row=CalendarEntry(district=row.district, happening=row),
            values={
                "building": building,
                "first_date": row.first_date,
                "last_date": row.last_date,
                "kind": ENTRY_OF[HappeningKind(row.kind)],
                "title": row.note[:120],
                **_hours(row, building),
            },
        )


def _places(row: Happening) -> list[Building | None]:
    """The schools by name; each of the district's where its own bells move; else one entry for all."""
    named = list(row.buildings.all())
    if named:
        return [*named]
    if row.minutes and HappeningKind(row.kind) is not HappeningKind.CLOSED:
        return [*Building.objects.filter(district=row.district).exclude(level=Building.Level.BASE)]
    return [None]


def _hours(row: Happening, building: Building | None) -> dict[str, dt.time]:
    """When a school opens or closes, where that isn't left to its bells."""
    match HappeningKind(row.kind):
        case HappeningKind.DELAYED_OPENING:
            opens = row.end or (_moved(row, building) if row.minutes else None)
            return {"opens_at": opens} if opens else {}
        case HappeningKind.EARLY_DISMISSAL:
            closes = row.start or (_moved(row, building) if row.minutes else None)
            return {"closes_at": closes} if closes else {}
        case _:
            return {}


def _moved(row: Happening, building: Building | None) -> dt.time:
    """A school's first bell that much later, or its last one that much earlier, on the first date."""
    if building is None or row.minutes is None:
        raise ValidationError({"buildings": "Choose the schools."})
    year = school_year_of(row.district, row.first_date, row.last_date)
    facts = load_calendars(row.district, [building], year)[building.pk].facts(row.first_date)
    if facts.bells is None:
        told = NO_BELLS.format(school=building.name, date=date_words(row.first_date))
        raise ValidationError({"minutes": told})
    if row.kind == HappeningKind.DELAYED_OPENING:
        return time_of(min(min(one.start for one in facts.bells.periods) + row.minutes, LAST_MINUTE))
    return time_of(max(max(one.end for one in facts.bells.periods) - row.minutes, 0))
