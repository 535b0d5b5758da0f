"""A building's school days with bells and labels, each laid out when it is asked for: a day sheet asks for one."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from accounts.dates import span_words
from schedule.calendar.calendars import (
    MONDAY_TO_FRIDAY,
    BellDefaults,
    CalendarError,
    SchoolDay,
    SpecialDays,
    dates_between,
    day_key,
)
from schedule.calendar.rotations import Rotation, cycle_positions


class SchoolDays(Mapping[date, SchoolDay]):
    """Every date of a building from `first` to `last`, both included, in order.

    Nothing that it is made from changes afterwards, so that a date is the same whenever it is asked for.
    Raises CalendarError on an impossible range.
    """

    def __init__(
        self,
        first: date,
        last: date,
        *,
        bells: BellDefaults,
        rotation: Rotation,
        weekdays: Collection[int],
        entries: Sequence[SpecialDays],
    ) -> None:
        dates_between(first, last)
        if rotation.anchor is not None:
            dates_between(min(first, rotation.anchor), max(last, rotation.anchor))
        self.first, self.last = first, last
        self._bells, self._rotation = bells, rotation
        self._weekdays, self._entries = weekdays, entries
        self._positions: Mapping[date, int | None] | None = None
        self._known: dict[date, SchoolDay] = {}

    def __getitem__(self, day: date) -> SchoolDay:
        """One date; KeyError for any that isn't among them."""
        if not self.first <= day <= self.last:
            raise KeyError(day)
        if day not in self._known:
            self._known[day] = self._laid_out(day)
        return self._known[day]

    def __iter__(self) -> Iterator[date]:
        """Every date."""
        return dates_between(self.first, self.last)

    def __len__(self) -> int:
        """How many dates."""
        return (self.last - self.first).days + 1

    def _laid_out(self, day: date) -> SchoolDay:
        turning, position = self._rotation, self._position(day)
        label = "" if position is None else turning.labels[position % turning.length]
        turn = None if position is None else position // turning.length
        key = day_key(day, weekdays=self._weekdays, entries=self._entries, bells=self._bells, cycle_label=label)
        return replace(key, turn=turn)

    def _position(self, day: date) -> int | None:
        """Its place in the endless row of labels. They are counted from the anchor on, so for all dates at once."""
        if self._positions is None:
            self._positions = cycle_positions(self.first, self.last, self._rotation, self._weekdays, self._entries)
        return self._positions.get(day)


def lay_out_days(
    first: date,
    last: date,
    *,
    bells: BellDefaults,
    rotation: Rotation | None = None,
    weekdays: Collection[int] = MONDAY_TO_FRIDAY,
    entries: Sequence[SpecialDays] = (),
    allow_none: bool = False,
) -> SchoolDays:
    """Every date of a building from first to last, both included, with bells and label.

    Raises CalendarError on an impossible range and, unless `allow_none`, when no date of it is a school day.
    """
    turning = rotation or Rotation()
    days = SchoolDays(first, last, bells=bells, rotation=turning, weekdays=weekdays, entries=entries)
    if not allow_none and not any(day.open for day in days.values()):
        raise CalendarError(
            f"There is no school day from {span_words(first, last)}. Choose other dates, tick the "
            "weekdays on which school is held, or take out the closures that cover the whole time."
        )
    return days
