"""A building's school days with bells and labels, each laid out when it is asked for: a day sheet asks for one."""

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from accounts.dates import span_words
from schedule.calendar.bells import Bells
from schedule.calendar.calendars import (
    MONDAY_TO_FRIDAY,
    BellDefaults,
    CalendarError,
    CycleDay,
    SchoolDay,
    SpecialDays,
    dates_between,
    day_key,
)
from schedule.calendar.day_words import WEEKDAYS, days_name
from schedule.calendar.rotations import Rotation, cycle_positions, rotation_for


class SchoolDays(Mapping[dt.date, SchoolDay]):
    """Every date of a building from `first` to `last`, both included, in order.

    Nothing that it is made from changes afterwards, so that a date is the same whenever it is asked for.
    Raises CalendarError on an impossible range.
    """

    def __init__(
        self,
        first: dt.date,
        last: dt.date,
        *,
        bells: BellDefaults,
        rotations: Sequence[Rotation],
        weekdays: Collection[int],
        entries: Sequence[SpecialDays],
    ) -> None:
        dates_between(first, last)
        every = (one for latest in rotations for one in latest.versions)
        for anchor in (one.anchor for one in every if one.anchor is not None):
            dates_between(min(first, anchor), max(last, anchor))
        self.first, self.last = first, last
        self._bells, self._rotations = bells, tuple(rotations)
        self._weekdays, self._entries = weekdays, entries
        self._positions: dict[Rotation, Mapping[dt.date, int | None]] = {}
        self._known: dict[dt.date, SchoolDay] = {}

    def __getitem__(self, day: dt.date) -> SchoolDay:
        """One date; KeyError for any that isn't among them."""
        if not self.first <= day <= self.last:
            raise KeyError(day)
        if day not in self._known:
            self._known[day] = self._laid_out(day)
        return self._known[day]

    def __iter__(self) -> Iterator[dt.date]:
        """Every date."""
        return dates_between(self.first, self.last)

    def __len__(self) -> int:
        """How many dates."""
        return (self.last - self.first).days + 1

    def _laid_out(self, day: dt.date) -> SchoolDay:
        turning = tuple(self._day_of(one.on(day), day) for one in self._rotations)
        labels = tuple(one.label for one in turning if one.label)
        key = day_key(day, weekdays=self._weekdays, entries=self._entries, bells=self._bells, labels=labels)
        return replace(key, turning=turning)

    def _day_of(self, rotation: Rotation | None, day: dt.date) -> CycleDay:
        """A rotation's day; nobody follows one that hasn't begun."""
        if rotation is None:
            return CycleDay()
        if rotation not in self._positions:
            # It is counted from the anchor on, so for all dates at once.
            counted = cycle_positions(self.first, self.last, rotation, self._weekdays, self._entries)
            self._positions[rotation] = counted
        return rotation.day_at(self._positions[rotation].get(day))


def lay_out_days(
    first: dt.date,
    last: dt.date,
    *,
    bells: BellDefaults,
    rotation: Rotation | None = None,
    others: Sequence[Rotation] = (),
    weekdays: Collection[int] = MONDAY_TO_FRIDAY,
    entries: Sequence[SpecialDays] = (),
    allow_none: bool = False,
) -> SchoolDays:
    """Every date of a building from first to last, both included, with bells and labels.

    `others`: rotations of some of its grades, beside its own.
    Raises CalendarError on an impossible range and, unless `allow_none`, when no date of it is a school day.
    """
    turning = [rotation or Rotation(), *others]
    days = SchoolDays(first, last, bells=bells, rotations=turning, weekdays=weekdays, entries=entries)
    if not allow_none and not any(day.open for day in days.values()):
        raise CalendarError(
            f"There is no school day from {span_words(first, last)}. Choose other dates, tick the "
            "weekdays on which school is held, or take out the closures that cover the whole time."
        )
    return days


@dataclass(frozen=True, slots=True)
class DayFacts:
    """One building on one date: open or closed and why, its bells, its cycle day.

    ``cycle_label`` is the day of the rotation by which one looks at it: the building's own, or that of some grades
    (`for_grades`). ``by_week``: that one counts A and B weeks, so that the label is the whole week's.
    ``turning``: the day of each of its rotations, its own first.
    """

    date: dt.date
    open: bool
    bells: Bells | None = None
    cycle_label: str = ""
    reason: str = ""
    problem: str = ""
    by_week: bool = False
    turning: tuple[CycleDay, ...] = ()

    @property
    def labels(self) -> tuple[str, ...]:
        """What its rotations call the date, each label once."""
        every = (self.cycle_label, *(one.label for one in self.turning))
        return tuple(dict.fromkeys(filter(None, every)))

    @property
    def pattern_key(self) -> str:
        """What the standing pattern knows the day by."""
        return pattern_key(self.date, self.cycle_label, by_week=self.by_week)

    def each(self) -> "tuple[DayFacts, ...]":
        """The date as each of the building's rotations has it, its own first."""
        return tuple(self._by(one) for one in self.turning) or (self,)

    def for_grades(self, grades: Collection[str]) -> "DayFacts":
        """The date as these grades have it: by a rotation for all of them, else by the building's own."""
        return self._by(self.turning[rotation_for(self.turning, grades)]) if self.turning else self

    def of_label(self, label: str) -> "DayFacts":
        """The date as the rotation has it that has such a day; the building's own where none has."""
        own = self._by(self.turning[0]) if self.turning else self
        return next((self._by(one) for one in self.turning if label in one.labels), own)

    def kind_of(self, day: dt.date, label: str) -> str:
        """What the standing pattern knows a day by on which the building had this label."""
        return pattern_key(day, label, by_week=self.of_label(label).by_week)

    def _by(self, one: CycleDay) -> "DayFacts":
        return replace(self, cycle_label=one.label, by_week=one.by_week)


def pattern_key(day: dt.date, label: str, *, by_week: bool) -> str:
    """A day's kind: its cycle day; its weekday in an A or B week; its weekday where nothing rotates."""
    weekday = WEEKDAYS[day.weekday()]
    return f"{label} {weekday}" if by_week and label else label or weekday


def day_is_named(days: str, facts: DayFacts) -> bool:
    """Whether a text such as ``Mon,Wed``, ``Day 3`` or ``first Wed`` names the date; an empty one every date."""
    return days_name(days, facts.date, *facts.labels)
