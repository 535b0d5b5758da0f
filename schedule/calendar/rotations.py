"""Rotations of days: which labels there are, and which day of a rotation a date is. Pure.

Pages, tables, services and the planner ask here, by `selectors.rotations` where they have rows. Dates are local
dates of the building; the caller passes the calendar entries that count for it.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import groupby

from schedule.calendar.calendars import (
    MONDAY_TO_FRIDAY,
    ONE_DAY,
    CalendarError,
    CycleDay,
    SchoolDay,
    SpecialDays,
    dates_between,
    in_force,
    is_open,
)


class RotationKind(StrEnum):
    """How a building counts its days."""

    WEEKDAY = "weekday"
    AB_WEEKS = "ab_weeks"
    CYCLE = "cycle"


class RotationPractice(StrEnum):
    """What a closed day does to the days after it; districts do both.

    next_unused: the label that was not used comes next (Monday should be Day 3 and is closed: Tuesday is
    Day 3). fixed_to_date: the label belongs to the date and is lost when the date is closed.
    For A/B weeks the same holds for a week without any school day.
    """

    NEXT_UNUSED = "next_unused"
    FIXED_TO_DATE = "fixed_to_date"


def numbered_labels(length: int) -> tuple[str, ...]:
    """`Day 1` to `Day N`, the usual labels of a rotation."""
    return tuple(f"Day {number}" for number in range(1, length + 1))


def labels_written(kind: RotationKind, length: int | None, written: str) -> tuple[str, ...]:
    """The labels in order, as they are written with commas between; the usual ones where none is written."""
    given = tuple(label.strip() for label in written.split(",") if label.strip())
    if given or kind is RotationKind.WEEKDAY:
        return given
    return ("A", "B") if kind is RotationKind.AB_WEEKS else numbered_labels(length or 0)


@dataclass(frozen=True, slots=True)
class Rotation:
    """How days get their label: by weekday alone, by A/B weeks, or in a cycle of 2 to 10 days.

    `anchor` carries `anchor_label`; where it isn't a school day, the first one after it does. A cycle's
    `labels` are in their order; A/B weeks have 2 or more. A weekday rotation has no labels and no anchor.
    `grades` follow it; without any it is the building's own, for all whom no other of its rotations names.
    From `first` on (None: as long as anybody knows); on the days before it `before`, if anything. Raises
    CalendarError.
    """

    kind: RotationKind = RotationKind.WEEKDAY
    labels: tuple[str, ...] = ()
    practice: RotationPractice = RotationPractice.NEXT_UNUSED
    anchor: date | None = None
    anchor_label: str = ""
    name: str = ""
    grades: frozenset[str] = frozenset()
    first: date | None = None
    before: "Rotation | None" = None

    def __post_init__(self) -> None:
        """Refuse a rotation that cannot be counted."""
        if self.kind is not RotationKind.WEEKDAY:
            self._require_countable()
        elif self.labels or self.anchor or self.anchor_label:
            raise CalendarError("A plain week has no rotating labels. Remove them, or choose a rotation.")

    def _require_countable(self) -> None:
        if not 2 <= self.length <= 10:
            raise CalendarError(f"A rotation has 2 to 10 labels, this one has {self.length}.")
        if not all(label.strip() for label in self.labels) or len(set(self.labels)) != self.length:
            raise CalendarError("Each label of a rotation must be written, and no two may be the same.")
        if self.anchor is None or self.anchor_label not in self.labels:
            raise CalendarError(
                "A rotation needs one known date and its label, such as the first school day and "
                f'"{self.labels[0]}"; the label must be one of {", ".join(self.labels)}.'
            )

    @property
    def length(self) -> int:
        """How many labels it has (0 for a plain week)."""
        return len(self.labels)

    @property
    def by_week(self) -> bool:
        """Whether it counts A and B weeks, so that a label is a whole week's."""
        return self.kind is RotationKind.AB_WEEKS

    def on(self, day: date) -> "Rotation | None":
        """What holds on a day; None where nothing does yet."""
        return in_force(self.versions, day)

    @property
    def versions(self) -> "tuple[Rotation, ...]":
        """What holds one after the other, the last first."""
        return (self, *(self.before.versions if self.before is not None else ()))

    @property
    def every_label(self) -> tuple[str, ...]:
        """The labels of all that it was and is."""
        return tuple(dict.fromkeys(label for one in self.versions for label in one.labels))

    def day_at(self, position: int | None) -> CycleDay:
        """What a date is by it that has this place in the endless row of its labels, or none."""
        turn, place = (None, None) if position is None else divmod(position, self.length)
        label = "" if place is None else self.labels[place]
        return CycleDay(label, self.labels, self.by_week, self.name, self.grades, turn, self.first)


def _steps(rotation: Rotation, counted: Sequence[date]) -> dict[date, int]:
    """How many turns of the label have come by each day."""
    return _count_weeks(counted) if rotation.kind is RotationKind.AB_WEEKS else _count_days(counted)


def cycle_positions(
    first: date,
    last: date,
    rotation: Rotation,
    weekdays: Collection[int] = MONDAY_TO_FRIDAY,
    entries: Sequence[SpecialDays] = (),
) -> dict[date, int | None]:
    """Place of each school day in the endless row of labels; 0 is the first label of the anchor's turn.

    The count starts at the rotation's anchor, so the entries must reach back (or forward) to it. None: a day
    opened by hand outside the usual weekdays, which has no label when labels are fixed to dates.
    Empty for a plain week.
    """
    if rotation.anchor is None:
        return {}
    days = list(dates_between(min(first, rotation.anchor), max(last, rotation.anchor)))
    open_days = [day for day in days if is_open(day, weekdays, entries)]
    by_calendar = rotation.practice is not RotationPractice.NEXT_UNUSED
    counted = [day for day in days if day.weekday() in weekdays] if by_calendar else open_days
    steps = _steps(rotation, counted)
    shift = rotation.labels.index(rotation.anchor_label) - _anchor_step(rotation.anchor, steps)
    return {day: steps[day] + shift if day in steps else None for day in open_days if first <= day <= last}


def _monday(day: date) -> date:
    """Monday of the date's week; weeks run Monday to Sunday."""
    return day - ONE_DAY * day.weekday()


def _count_days(counted: Sequence[date]) -> dict[date, int]:
    """0, 1, 2 ... for each counted date."""
    return {day: number for number, day in enumerate(counted)}


def _count_weeks(counted: Sequence[date]) -> dict[date, int]:
    """0, 1, 2 ... for each week that has a counted date; weeks without one are not counted."""
    weeks = groupby(counted, key=_monday)
    return {day: number for number, (_, days) in enumerate(weeks) for day in days}


def _anchor_step(anchor: date, steps: Mapping[date, int]) -> int:
    """The step that carries the anchor's label: that of the anchor, or of the first counted date after it."""
    after = [step for day, step in steps.items() if day >= anchor]
    # No counted date from the anchor on: the next one, whenever it comes, would carry the anchor's label.
    return after[0] if after else max(steps.values(), default=-1) + 1


def group_cycles(days: Sequence[SchoolDay], grades: Collection[str] = ()) -> tuple[tuple[date, ...], ...]:
    """School days in whole turns of the rotation that grades follow: the periods of a frequency "per cycle".

    The first and the last turn may be cut off by the range that was laid out, or by a day on which another rotation
    begins. Empty for a plain week.
    """
    turns: dict[date, tuple[int, date | None, int]] = {}
    for day in days:
        place = rotation_for(day.turning, grades)
        one = day.turning[place]
        if one.turn is not None:
            turns[day.date] = (place, one.since, one.turn)
    return tuple(tuple(together) for _, together in groupby(sorted(turns), key=turns.__getitem__))


def rotation_for(rotations: Sequence[Rotation | CycleDay], grades: Collection[str]) -> int:
    """Which of a building's rotations these grades follow, all of them; its own (0) where none is for them."""
    found = (place for place, one in enumerate(rotations) if one.grades and one.grades.issuperset(grades))
    return next(found, 0) if grades else 0
