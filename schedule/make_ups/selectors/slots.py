"""Where in the coming weeks the open minutes of a service or of a group fit."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.delivery.in_force import in_force
from caseload.plans.models import ServiceLine
from schedule.make_ups.minutes import (
    Lengths,
    MakeUpSlot,
    OpenMinutes,
    days_to_avoid,
    in_order_of_date,
    joined_open,
    lengths_offered,
    matching,
    mates_first,
)
from schedule.make_ups.selectors.mates import with_mates
from schedule.make_ups.selectors.needs import MakeUpNeed, line_to_make_up, make_up_need
from schedule.make_ups.selectors.places import MakeUpPlace, MakeUpWeek
from schedule.weeks.planning.load import monday_of
from schedule.weeks.planning.make_up_services import MakeUp

MOST_WEEKS = 6
"""Weeks that are looked at for one make-up; common practice, no source."""

SCHOOL_DAYS = 5
MOST_SLOTS = 200
ONE_DAY = dt.timedelta(days=1)
SKIPPED = frozenset({"no_school_days", "no_services", "no_school_year"})
NOT_OPEN = "Nothing of {} is open for this service anymore. Look at the make-ups again."


@dataclass(frozen=True, slots=True)
class SlotChoice:
    """What is looked for: which missed session, with which other students, how far ahead, on which day and where.

    Without a missed session the oldest open minutes are looked at; without a date as far as they are due.
    `weekday` 0 is Monday, `building` a code.
    """

    missed: dt.date | None = None
    others: tuple[int, ...] = ()
    until: dt.date | None = None
    weekday: int | None = None
    building: str = ""


@dataclass(frozen=True, slots=True)
class MakeUpTarget:
    """The minutes that a make-up is for, and all whom it is for: one service, or those of a group."""

    needs: tuple[MakeUpNeed, ...]
    one: OpenMinutes

    @property
    def lines(self) -> tuple[int, ...]:
        """The service lines."""
        return tuple(sorted(need.line.pk for need in self.needs))

    @property
    def lengths(self) -> Lengths:
        """What decides how long the make-up can be: of a group, the longest usual session."""
        return Lengths(max(need.usual for need in self.needs), self.needs[0].least)


@dataclass(frozen=True, slots=True)
class MakeUpSlots:
    """Where open minutes fit, by date, joint ones first; `notes` say which weeks could not be looked at and why.

    `minutes` is the length that is offered: the whole that was missed where it fits anywhere. `buildings` are the
    names by code of all slots, `left_out` how many more there are than are listed.
    """

    need: MakeUpNeed
    target: MakeUpTarget | None
    until: dt.date
    minutes: int = 0
    slots: tuple[MakeUpSlot, ...] = ()
    notes: tuple[str, ...] = ()
    buildings: dict[str, str] = field(default_factory=dict)
    left_out: int = 0

    @property
    def is_part(self) -> bool:
        """Whether no time holds the whole that was missed."""
        return (
            self.target is not None and 0 < self.minutes < lengths_offered(self.target.one, self.target.lengths)[0]
        )


def target_of(
    viewer: Person, line: ServiceLine, today: dt.date, missed: dt.date | None, others: Iterable[int] = ()
) -> tuple[MakeUpNeed, MakeUpTarget | None]:
    """What a line has open, and the part of it that a make-up is looked for; None where nothing is open.

    With `others` it is a session that all of them missed. Raises `ApplicationError`: 404 for a line out of sight,
    ``nothing_open`` where nothing of the missed session is open.
    """
    need = make_up_need(viewer, line, today)
    members = [need, *(make_up_need(viewer, line_to_make_up(viewer, other, today), today) for other in others)]
    if len(members) == 1 and (need.too_few or not need.open):
        return need, None
    items = [_item(one, missed, alone=len(members) == 1) for one in members]
    longest = max(items, key=lambda one: one.minutes)
    due = min(one.due for one in items)
    return need, MakeUpTarget(tuple(members), OpenMinutes(longest.minutes, due, items[0].since, items[0].missed))


def _item(need: MakeUpNeed, missed: dt.date | None, *, alone: bool) -> OpenMinutes:
    """The open minutes of one missed session; the oldest where none is named."""
    open_ = joined_open(need.open, need.lengths) if alone else need.open
    found = next((one for one in open_ if missed in {None, one.missed}), None)
    if found is None:
        what = f"{missed:%B %-d}" if missed is not None else "it"
        raise ApplicationError(NOT_OPEN.format(what), code="nothing_open")
    return found


def make_up_slots(
    viewer: Person, line: ServiceLine, today: dt.date, choice: SlotChoice | None = None
) -> MakeUpSlots:
    """Slots from tomorrow on for what a line has open, by date, each moment once at the whole length missed.

    Of a service that is given together, those at which the other teacher is free in the building come first.

    Up to the date chosen, or the due date (two weeks at least), and never further than `MOST_WEEKS`. Where the
    whole fits nowhere, less is offered. Raises `ApplicationError` as `target_of` does.
    """
    wanted = choice or SlotChoice()
    need, target = target_of(viewer, line, today, wanted.missed, wanted.others)
    furthest = monday_of(today) + dt.timedelta(weeks=MOST_WEEKS, days=-1)
    due = target.one.due if target is not None else today
    last = min(wanted.until or max(due, today + dt.timedelta(days=14)), furthest, _last_day(line))
    if target is None:
        return MakeUpSlots(need, None, last)
    minutes, every, notes = _first_that_fits(line.provider, target, today, last)
    by_date = with_mates([one.line for one in target.needs], in_order_of_date(every, due))
    shown = matching(mates_first(by_date), weekday=wanted.weekday, building=wanted.building)
    return MakeUpSlots(
        need,
        target,
        last,
        minutes,
        shown[:MOST_SLOTS],
        tuple(notes),
        {one.building_code: one.building_name for one in by_date},
        max(len(shown) - MOST_SLOTS, 0),
    )


def _last_day(line: ServiceLine) -> dt.date:
    """The last day on which the same teacher gives the service, under whichever of its versions."""
    return max(in_force(version)[1] for version in line.service.versions.filter(provider=line.provider))


def _first_that_fits(
    teacher: Person, target: MakeUpTarget, today: dt.date, last: dt.date
) -> tuple[int, list[MakeUpSlot], list[str]]:
    """The first length that fits anywhere until a date, with its slots; and notes on weeks without any teaching."""
    notes: list[str] = []
    pieces = [MakeUp(target.lines, minutes) for minutes in lengths_offered(target.one, target.lengths)]
    weeks = [open_week(teacher, monday, pieces, notes) for monday in _mondays(today + ONE_DAY, last)]
    for piece in pieces:
        found = _slots_in(weeks, target, piece, today)
        if any(slot.date <= last for slot in found):
            return piece.minutes, [slot for slot in found if slot.date <= last], notes
    return pieces[0].minutes, [], notes


def _slots_in(
    weeks: Iterable[MakeUpWeek | None], target: MakeUpTarget, piece: MakeUp, today: dt.date
) -> list[MakeUpSlot]:
    return [one.slot for week in weeks if week is not None for one in places_in(week, target, piece, today)]


def places_in(week: MakeUpWeek, target: MakeUpTarget, piece: MakeUp, today: dt.date) -> list[MakeUpPlace]:
    """Every place of a week, from tomorrow on, where a make-up of a length fits."""
    avoid = avoided_days(week, [need.line for need in target.needs])
    return week.places(piece, today + ONE_DAY, avoid)


def open_week(teacher: Person, monday: dt.date, pieces: Iterable[MakeUp], notes: list[str]) -> MakeUpWeek | None:
    """The week to try make-ups in; None, with a sentence in `notes`, where it has nothing to teach."""
    try:
        return MakeUpWeek(teacher, monday, pieces)
    except ApplicationError as error:
        if error.code not in SKIPPED:
            raise
        notes.append(error.message)
        return None


def avoided_days(week: MakeUpWeek, lines: Iterable[ServiceLine]) -> frozenset[dt.date]:
    """Days of a week on which the lines' own rules (days apart) keep a make-up away."""
    return frozenset(day for line in lines for day in _avoided(week, line))


def _avoided(week: MakeUpWeek, line: ServiceLine) -> frozenset[dt.date]:
    return days_to_avoid(line.days_apart, week.dates_of(line.pk), daily=_is_daily(line))


def keeps_apart(line: ServiceLine) -> bool:
    """Whether a line's sessions stand on different days."""
    return line.days_apart > 0 and not _is_daily(line)


def _is_daily(line: ServiceLine) -> bool:
    """Whether a line meets on every day, so that no day is left for a make-up beside its own sessions."""
    days = {ServiceLine.Unit.WEEK: SCHOOL_DAYS, ServiceLine.Unit.CYCLE: line.cycle_days or SCHOOL_DAYS}
    days[ServiceLine.Unit.DAY] = 1
    return line.times is not None and line.times >= days.get(ServiceLine.Unit(line.unit), line.times + 1)


def _mondays(first: dt.date, last: dt.date) -> list[dt.date]:
    monday = monday_of(first)
    count = max((monday_of(last) - monday).days // 7 + 1, 0)
    return [monday + dt.timedelta(weeks=number) for number in range(count)]
