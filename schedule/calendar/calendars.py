"""School days of one building: which dates are open, on which bells, on which day of a rotation.

Dates are local dates of the building. Nothing here reads a clock or a database: the caller passes the
entries that count for the building (the district's, and the building's own with a higher `precedence`).
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from itertools import groupby

from accounts.dates import date_words, span_words
from schedule.calendar.day_words import NamedDays

MONDAY_TO_FRIDAY = frozenset(range(5))
ONE_DAY = timedelta(days=1)
# Bounds every walk over dates, and so what a mistyped year can cost.
LONGEST_RANGE_DAYS = 3 * 366


class CalendarError(ValueError):
    """A calendar or a rotation that cannot be used; the message says what to change."""


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


class EntryKind(StrEnum):
    """What a calendar entry says about its dates.

    `open` makes a school day of a date that otherwise is none (a Saturday that makes up for a storm, or one
    building's exception to the district's closure). `no_students` is a day of work for staff only.
    """

    CLOSED = "closed"
    NO_STUDENTS = "no_students"
    EARLY_DISMISSAL = "early_dismissal"
    DELAYED_OPENING = "delayed_opening"
    OTHER_BELL = "other_bell"
    OPEN = "open"


_CLOSING = (EntryKind.CLOSED, EntryKind.NO_STUDENTS)


def numbered_labels(length: int) -> tuple[str, ...]:
    """`Day 1` to `Day N`, the usual labels of a rotation."""
    return tuple(f"Day {number}" for number in range(1, length + 1))


@dataclass(frozen=True, slots=True)
class Rotation:
    """How days get their label: by weekday alone, by A/B weeks, or in a cycle of 2 to 10 days.

    `anchor` carries `anchor_label`; where it isn't a school day, the first one after it does. A cycle's
    `labels` are in their order; A/B weeks have 2 or more. A weekday rotation has no labels and no anchor.
    Raises CalendarError.
    """

    kind: RotationKind = RotationKind.WEEKDAY
    labels: tuple[str, ...] = ()
    practice: RotationPractice = RotationPractice.NEXT_UNUSED
    anchor: date | None = None
    anchor_label: str = ""

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


@dataclass(frozen=True, slots=True)
class SpecialDays:
    """What the calendar says about the dates `first` to `last`, both included.

    `bell` names the bell schedule of these dates (required for other_bell). Where entries meet on a date, the
    higher `precedence` wins (a building's own over the district's), then the one that closes. `opens` and `closes`
    are minutes after midnight by which a delayed opening or an early dismissal cuts the usual bells.
    Raises CalendarError.
    """

    first: date
    last: date
    kind: EntryKind
    title: str = ""
    bell: str = ""
    precedence: int = 0
    opens: int | None = None
    closes: int | None = None

    def __post_init__(self) -> None:
        """Refuse an entry that ends before it begins or lacks its bells."""
        if self.last < self.first:
            raise CalendarError(
                f'Calendar entry "{self.title or self.kind}" ends on {date_words(self.last)}, before it begins on '
                f"{date_words(self.first)}. Correct one of the two dates."
            )
        if self.kind is EntryKind.OTHER_BELL and not self.bell:
            raise CalendarError(
                f'Calendar entry "{self.title}" on {date_words(self.first)} must name a bell schedule.'
            )

    @property
    def reason(self) -> str:
        """Title, or the kind in words where there is none."""
        return self.title or self.kind.replace("_", " ")


@dataclass(frozen=True, slots=True)
class BellDefaults:
    """Names of the bell schedules of a building, from the most particular to the least.

    `by_date` (a date set by hand) wins over an entry's own bells, then `by_kind` of the entry, then
    `particular` (a weekday by its place in the month, then one of a rotation's day), then `by_label` of the
    rotation, then `by_weekday` (Monday 0), then `regular`.
    """

    regular: str
    by_kind: Mapping[EntryKind, str] = field(default_factory=dict)
    by_label: Mapping[str, str] = field(default_factory=dict)
    by_weekday: Mapping[int, str] = field(default_factory=dict)
    by_date: Mapping[date, str] = field(default_factory=dict)
    particular: Sequence[tuple[NamedDays, str]] = ()

    def __post_init__(self) -> None:
        """A place in the month comes first, since it is rarer."""
        ordered = sorted(self.particular, key=lambda one: one[0].place is None)
        object.__setattr__(self, "particular", tuple(ordered))

    @classmethod
    def of_days(
        cls, regular: str, by_kind: Mapping[EntryKind, str], named: Sequence[tuple[NamedDays, str]]
    ) -> "BellDefaults":
        """From the days that a building's own rules name, each with its bells."""
        plain = [(days, bell) for days, bell in named if days.plain]
        return cls(
            regular,
            by_kind,
            by_label={days.label: bell for days, bell in plain if days.label},
            by_weekday={weekday: bell for days, bell in plain for weekday in days.weekdays},
            particular=[(days, bell) for days, bell in named if not days.plain],
        )


@dataclass(frozen=True, slots=True)
class SchoolDay:
    """One date of one building.

    `open`: students attend. `bell`: name of its bell schedule, empty when closed or not known. `cycle_label`:
    empty when closed or for a plain week. `turn` counts the cycles of the rotation, 0 being the anchor's.
    `reason`: why it is closed or not on its usual bells. `problem`: what is missing before anything can be
    planned on it, with the remedy, else empty. `opens` and `closes`: minutes after midnight that cut its bells.
    """

    date: date
    open: bool
    bell: str = ""
    cycle_label: str = ""
    reason: str = ""
    staff_only: bool = False
    problem: str = ""
    turn: int | None = None
    opens: int | None = None
    closes: int | None = None


def dates_between(first: date, last: date) -> Iterator[date]:
    """Every date from first to last, both included. Raises CalendarError on a range that is none."""
    if last < first:
        raise CalendarError(
            f"The calendar ends on {date_words(last)}, before it begins on {date_words(first)}. Correct the dates."
        )
    if (last - first).days > LONGEST_RANGE_DAYS:
        raise CalendarError(f"{span_words(first, last)} is more than three years. Check the year of both dates.")
    return (first + ONE_DAY * offset for offset in range((last - first).days + 1))


def entries_for(day: date, entries: Sequence[SpecialDays]) -> tuple[SpecialDays, ...]:
    """The entries that count on a date: those of the highest precedence, one that closes first, `open` last."""
    found = [entry for entry in entries if entry.first <= day <= entry.last]
    highest = max((entry.precedence for entry in found), default=0)
    counting = [entry for entry in found if entry.precedence == highest]
    counting.sort(key=lambda entry: (entry.kind not in _CLOSING, entry.kind is EntryKind.OPEN))
    return tuple(counting)


def is_open(day: date, weekdays: Collection[int], entries: Sequence[SpecialDays]) -> bool:
    """Whether students attend: a usual weekday (Monday 0) that no entry closes, or one that an entry opens.

    A shortened day or other bells on a date that isn't a usual weekday do not make it a school day.
    """
    kinds = {entry.kind for entry in entries_for(day, entries)}
    if kinds.intersection(_CLOSING):
        return False
    return EntryKind.OPEN in kinds or day.weekday() in weekdays


def school_days(
    first: date, last: date, weekdays: Collection[int], entries: Sequence[SpecialDays]
) -> tuple[date, ...]:
    """Dates on which students attend, from first to last, both included; may be empty.

    See lay_out_days for the whole calendar, which refuses to be without a school day.
    """
    return tuple(day for day in dates_between(first, last) if is_open(day, weekdays, entries))


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


def day_key(
    day: date,
    *,
    weekdays: Collection[int],
    entries: Sequence[SpecialDays],
    bells: BellDefaults,
    cycle_label: str = "",
) -> SchoolDay:
    """What one date is: open or closed, on which bells and why. The label comes from lay_out_days."""
    counting = entries_for(day, entries)
    entry = counting[0] if counting else None
    if not is_open(day, weekdays, entries):
        reason = entry.reason if entry is not None and entry.kind in _CLOSING else "not a school weekday"
        staff_only = entry is not None and entry.kind is EntryKind.NO_STUDENTS
        return SchoolDay(day, open=False, reason=reason, staff_only=staff_only)
    bell, problem = _choose_bell(day, counting, bells, cycle_label)
    reason = entry.reason if entry is not None else ""
    opens, closes = (entry.opens, entry.closes) if entry is not None else (None, None)
    found = SchoolDay(day, open=True, bell=bell, cycle_label=cycle_label, reason=reason, problem=problem)
    return replace(found, opens=opens, closes=closes)


def _usual_bell(day: date, bells: BellDefaults, cycle_label: str) -> str:
    particular = next((bell for named, bell in bells.particular if named.names(day, cycle_label)), "")
    return particular or bells.by_label.get(cycle_label) or bells.by_weekday.get(day.weekday()) or bells.regular


def _too_many(day: date, shaping: Sequence[SpecialDays]) -> str:
    names = " and ".join(f'"{entry.reason}"' for entry in shaping)
    return f"{day} carries {names}: keep one of them, or name the bell schedule of this date."


def _by_the_clock(entry: SpecialDays) -> bool:
    """Whether it cuts the usual bells at a time, and has none of its own."""
    return entry.opens is not None or entry.closes is not None


def _bell_of_kind(day: date, kind: EntryKind, bells: BellDefaults) -> tuple[str, str]:
    words = kind.replace("_", " ")
    missing = f"{day} has {words}, but the building has no {words} bells: add them, or name others."
    found = bells.by_kind.get(kind, "")
    return found, "" if found else missing


def _choose_bell(
    day: date, counting: Sequence[SpecialDays], bells: BellDefaults, cycle_label: str
) -> tuple[str, str]:
    """The bell schedule of an open day and, where it cannot be known, the problem with its remedy.

    A shortened day never falls back on the regular bells: sessions would be planned for children who have
    gone home.
    """
    if day in bells.by_date:
        return bells.by_date[day], ""
    shaping = [entry for entry in counting if entry.kind is not EntryKind.OPEN]
    if len({(entry.kind, entry.bell, entry.opens, entry.closes) for entry in shaping}) > 1:
        return "", _too_many(day, shaping)
    return _bell_of_entries(day, counting, shaping, bells) or (_usual_bell(day, bells, cycle_label), "")


def _bell_of_entries(
    day: date, counting: Sequence[SpecialDays], shaping: Sequence[SpecialDays], bells: BellDefaults
) -> tuple[str, str] | None:
    """The bells that the entries of a date call for; None where they leave it the usual ones."""
    named = next((entry.bell for entry in counting if entry.bell), "")
    if named:
        return named, ""
    if shaping and not _by_the_clock(shaping[0]):
        return _bell_of_kind(day, shaping[0].kind, bells)
    return None


def group_cycles(days: Sequence[SchoolDay]) -> tuple[tuple[date, ...], ...]:
    """School days in whole turns of their rotation, in order: the periods of a frequency "per cycle".

    The first and the last turn may be cut off by the range that was laid out. Empty for a plain week.
    """
    turning = sorted((day for day in days if day.turn is not None), key=lambda day: day.date)
    return tuple(tuple(day.date for day in together) for _, together in groupby(turning, key=lambda day: day.turn))
