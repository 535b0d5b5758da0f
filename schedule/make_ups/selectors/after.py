"""What fell out by something that happened and waits to be made up, and where it still fits in this week."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import Student
from schedule.calendar.models import Happening
from schedule.make_ups.minutes import MakeUpSlot, OpenMinutes, lengths_offered
from schedule.make_ups.selectors.needs import MakeUpNeed, group_needs, make_up_needs
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.make_ups.selectors.slots import MakeUpTarget, open_week, places_in
from schedule.weeks.planning.load import monday_of
from schedule.weeks.planning.make_up_services import MakeUp

MOST_SLOTS = 3
"""Offered for each: those that add the fewest miles, the earliest first."""


@dataclass(frozen=True, slots=True)
class OfferThisWeek:
    """A session that was missed and is owed to those named, and where it fits this week."""

    target: MakeUpTarget
    slots: tuple[MakeUpSlot, ...]

    @property
    def line(self) -> int:
        """The service line under which it is booked."""
        return self.target.needs[0].line.pk

    @property
    def others(self) -> str:
        """The lines of the others who missed it."""
        return ",".join(str(need.line.pk) for need in self.target.needs[1:])

    @property
    def students(self) -> list[Student]:
        """Who missed it."""
        return [need.student for need in self.target.needs]


def offers_after(viewer: Person, teacher: Person, row: Happening, today: dt.date) -> tuple[OfferThisWeek, ...]:
    """What of it still fits this week, from tomorrow on, with its miles; the week is read once.

    Raises `ApplicationError` (404) for a teacher who isn't the viewer's to plan.
    """
    taken = _taken_by(row)
    targets = list(_targets(make_up_needs(viewer, teacher, today), taken)) if taken else []
    pieces = {target.lines: [MakeUp(target.lines, one) for one in _lengths(target)] for target in targets}
    week = open_week(teacher, monday_of(today), [one for every in pieces.values() for one in every], [])
    return tuple(OfferThisWeek(target, _slots(week, target, pieces[target.lines], today)) for target in targets)


def _lengths(target: MakeUpTarget) -> Sequence[int]:
    return lengths_offered(target.one, target.lengths)


def _taken_by(row: Happening) -> set[str]:
    """The sessions that are logged as missed because of it."""
    rows = DeliveryVersion.objects.current().filter(sending=row.sending, reason__isnull=False)
    return {str(uid) for uid in rows.values_list("entry__session_uid", flat=True) if uid is not None}


def _targets(needs: Sequence[MakeUpNeed], taken: set[str]) -> Iterator[MakeUpTarget]:
    """Sessions that several missed, then those of one."""
    together = [one for one in group_needs(needs) if one.session in taken]
    for group in together:
        item = max((group.item_of(one) for one in group.members), key=_minutes)
        yield MakeUpTarget(group.members, item)
    alone = taken - {one.session for one in together}
    for need in needs:
        yield from _alone(need, alone)


def _alone(need: MakeUpNeed, taken: set[str]) -> Iterator[MakeUpTarget]:
    """What one service has open of these sessions, where a session of its own can hold it."""
    return (MakeUpTarget((need,), item) for item in need.open if need.is_plannable and item.session in taken)


def _minutes(one: OpenMinutes) -> int:
    return one.minutes


def _slots(
    week: MakeUpWeek | None, target: MakeUpTarget, pieces: Iterable[MakeUp], today: dt.date
) -> tuple[MakeUpSlot, ...]:
    """Of the longest piece that fits anywhere, the times that cost the fewest miles."""
    if week is None:
        return ()
    found = ([one.slot for one in places_in(week, target, piece, today)] for piece in pieces)
    longest = next(filter(None, found), [])
    return tuple(sorted(longest, key=_cost)[:MOST_SLOTS])


def _cost(one: MakeUpSlot) -> tuple[object, ...]:
    return one.added_miles, one.wishes_missed, one.date, one.start
