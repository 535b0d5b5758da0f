"""School days of one building: which dates are open, and on which bells; `rotations` says on which cycle day.

Dates are local dates of the building. Nothing here reads a clock or a database: the caller passes the
entries that count for the building (the district's, and the building's own with a higher `precedence`).
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Protocol

from accounts.dates import date_words, span_words
from schedule.calendar.day_words import NamedDays

MONDAY_TO_FRIDAY = frozenset(range(5))
ONE_DAY = timedelta(days=1)
# Bounds every walk over dates, and so what a mistyped year can cost.
LONGEST_RANGE_DAYS = 3 * 366


class CalendarError(ValueError):
    """A calendar or a rotation that cannot be used; the message says what to change."""


class FromADay(Protocol):
    """Something that holds from a first day on; None: as long as anybody knows."""

    @property
    def first(self) -> date | None: ...


def in_force[T: FromADay](versions: Iterable[T], day: date) -> T | None:
    """Which of several versions holds on a day: the one that began last; None before the first of them."""
    begun = (one for one in versions if one.first is None or one.first <= day)
    return max(begun, key=lambda one: one.first or date.min, default=None)


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
class CycleDay:
    """What one rotation of a building calls a date.

    `label`: empty when closed or for a plain week; `labels`: all that the rotation has. `by_week`: it counts A and
    B weeks. `grades`: who follows it, empty for all whom no other rotation of the building names. `turn` counts
    its cycles, 0 being the anchor's, for as long as it is the same rotation, which began on `since`.
    """

    label: str = ""
    labels: tuple[str, ...] = ()
    by_week: bool = False
    name: str = ""
    grades: frozenset[str] = frozenset()
    turn: int | None = None
    since: date | None = None


@dataclass(frozen=True, slots=True)
class SchoolDay:
    """One date of one building.

    `open`: students attend. `bell`: name of its bell schedule, empty when closed or not known. `turning`: which day
    of each of the building's rotations it is, its own first.
    `reason`: why it is closed or not on its usual bells. `problem`: what is missing before anything can be
    planned on it, with the remedy, else empty. `opens` and `closes`: minutes after midnight that cut its bells.
    """

    date: date
    open: bool
    bell: str = ""
    reason: str = ""
    staff_only: bool = False
    problem: str = ""
    opens: int | None = None
    closes: int | None = None
    turning: tuple[CycleDay, ...] = (CycleDay(),)

    @property
    def cycle_label(self) -> str:
        """What the building's own rotation calls it."""
        return self.turning[0].label


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


def day_key(
    day: date,
    *,
    weekdays: Collection[int],
    entries: Sequence[SpecialDays],
    bells: BellDefaults,
    labels: Sequence[str] = (),
) -> SchoolDay:
    """What one date is: open or closed, on which bells and why.

    `labels`: what the building's rotations call it, its own first, which comes first for the bells too.
    """
    counting = entries_for(day, entries)
    entry = counting[0] if counting else None
    if not is_open(day, weekdays, entries):
        reason = entry.reason if entry is not None and entry.kind in _CLOSING else "not a school weekday"
        staff_only = entry is not None and entry.kind is EntryKind.NO_STUDENTS
        return SchoolDay(day, open=False, reason=reason, staff_only=staff_only)
    bell, problem = _choose_bell(day, counting, bells, labels)
    reason = entry.reason if entry is not None else ""
    opens, closes = (entry.opens, entry.closes) if entry is not None else (None, None)
    found = SchoolDay(day, open=True, bell=bell, reason=reason, problem=problem)
    return replace(found, opens=opens, closes=closes)


def _usual_bell(day: date, bells: BellDefaults, labels: Sequence[str]) -> str:
    particular = next((bell for named, bell in bells.particular if named.names(day, *labels)), "")
    of_label = next((bells.by_label[label] for label in labels if label in bells.by_label), "")
    return particular or of_label or bells.by_weekday.get(day.weekday()) or bells.regular


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
    day: date, counting: Sequence[SpecialDays], bells: BellDefaults, labels: Sequence[str]
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
    return _bell_of_entries(day, counting, shaping, bells) or (_usual_bell(day, bells, labels), "")


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
