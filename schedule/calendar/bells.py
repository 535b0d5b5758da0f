"""Bell schedules of one building: named periods, lunch by grade, and where a session may start.

Every time of day is an integer: minutes after local midnight in the building's own time zone.
Nothing here reads a clock or a database.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import combinations

MINUTES_IN_DAY = 24 * 60

_CLOCK = re.compile(
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?\s*(?P<half>[ap])?(?(half)\.?\s*m\.?)"
)


class ClockError(ValueError):
    """A time of day that cannot be read or written; the message names it and says how to write it."""


class BellError(ValueError):
    """A bell schedule that cannot be used. `problems` has one sentence for each fault, with its remedy."""

    def __init__(self, problems: Sequence[str]) -> None:
        """Keep every problem, so that a page can list them all at once."""
        self.problems = tuple(problems)
        super().__init__(" ".join(self.problems))


class PeriodKind(StrEnum):
    """What a period is for; sessions are offered only in instruction."""

    INSTRUCTION = "instruction"
    LUNCH = "lunch"
    HOMEROOM = "homeroom"
    OTHER = "other"


class BellKind(StrEnum):
    """Which sort of day a bell schedule is for."""

    REGULAR = "regular"
    EARLY_DISMISSAL = "early_dismissal"
    DELAYED_OPENING = "delayed_opening"
    ASSEMBLY = "assembly"
    OTHER = "other"


def read_clock(text: str) -> int:
    """Minutes after midnight of `08:05`, `8:05`, `1:05 PM` or a spreadsheet's `13:05:00`.

    Without AM or PM the hours are those of a 24-hour clock. Raises ClockError.
    """
    cleaned = text.strip().lower()
    match = _CLOCK.fullmatch(cleaned)
    if match is None:
        raise ClockError(f'"{text}" is not a time of day. Write it like 08:05, 13:05 or 1:05 PM.')
    hour, minute, half = int(match["hour"]), int(match["minute"]), match["half"]
    if match["second"] not in (None, "00"):
        raise ClockError(f'"{text}" has seconds. Times of day are whole minutes, like 08:05.')
    if minute > 59:
        raise ClockError(f'"{text}" has more than 59 minutes after the hour.')
    if half is None:
        if hour > 23:
            raise ClockError(f'"{text}" has an hour above 23. Write it like 08:05, 13:05 or 1:05 PM.')
        return hour * 60 + minute
    if not 1 <= hour <= 12:
        raise ClockError(f'"{text}" mixes a 24-hour time with AM or PM. Write 13:05 or 1:05 PM.')
    return (hour % 12 + (12 if half == "p" else 0)) * 60 + minute


def write_clock(minutes: int, *, twelve_hour: bool = False) -> str:
    """`08:05`, or `8:05 AM` when twelve_hour. Raises ClockError outside one day (0 to 1439)."""
    if not 0 <= minutes < MINUTES_IN_DAY:
        raise ClockError(f"{minutes} minutes after midnight is not within one day.")
    hour, minute = divmod(minutes, 60)
    if not twelve_hour:
        return f"{hour:02d}:{minute:02d}"
    return f"{hour % 12 or 12}:{minute:02d} {'AM' if hour < 12 else 'PM'}"


def _shown(minutes: int) -> str:
    """A time for an error message, which must not itself fail on a time outside the day."""
    return write_clock(minutes) if 0 <= minutes < MINUTES_IN_DAY else f"minute {minutes}"


@dataclass(frozen=True, slots=True)
class Period:
    """One named period, from `start` up to `end` (minutes after local midnight, `end` excluded).

    `grades` names the grades it is for; an empty set means every grade of the building.
    A period is not checked alone: BellSchedule checks all its periods and reports every fault together.
    """

    name: str
    start: int
    end: int
    kind: PeriodKind = PeriodKind.INSTRUCTION
    grades: frozenset[str] = field(default_factory=frozenset)

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end - self.start

    def is_for(self, grade: str | None) -> bool:
        """Whether a grade may be in it; with no grade given, yes."""
        return grade is None or not self.grades or grade in self.grades

    def overlaps(self, start: int, end: int) -> bool:
        """Whether it shares at least one minute with `start` up to `end`."""
        return self.start < end and start < self.end


@dataclass(frozen=True, slots=True)
class Bells:
    """All periods of one sort of day in one building, sorted by start.

    Periods may lie beside each other in time only when no grade is asked to be in both: their grades
    differ, or one is a lunch for named grades and the other is for everyone (those grades are then at lunch).
    `passing_minutes` is the longest gap between two periods that still counts as changing rooms.
    Raises BellError with every fault found.
    """

    name: str
    periods: tuple[Period, ...]
    kind: BellKind = BellKind.REGULAR
    passing_minutes: int = 0

    def __post_init__(self) -> None:
        """Sort the periods and refuse a schedule with faults."""
        ordered = tuple(sorted(self.periods, key=lambda period: (period.start, period.end, period.name)))
        object.__setattr__(self, "periods", ordered)
        problems = find_bell_problems(self.name, ordered, self.passing_minutes)
        if problems:
            raise BellError(problems)

    def between(self, opens: int | None, closes: int | None) -> "Bells | None":
        """The same bells on a day that opens late or ends early, periods under way cut; None if none is left."""
        first, last = opens or 0, MINUTES_IN_DAY if closes is None else closes
        left = tuple(
            replace(one, start=max(one.start, first), end=min(one.end, last))
            for one in self.periods
            if one.overlaps(first, last)
        )
        return replace(self, periods=left) if left else None

    def without_lunches(self) -> "Bells":
        """The same bells for a class that has a lunch of its own; a time that only lunch had is no period then."""
        return replace(self, periods=tuple(one for one in self.periods if one.kind is not PeriodKind.LUNCH))

    def lunches_for(self, grade: str | None) -> tuple[Period, ...]:
        """Lunches of a grade: those that name it, or else those for everyone."""
        lunches = [period for period in self.periods if period.kind is PeriodKind.LUNCH]
        named = tuple(period for period in lunches if period.grades and period.is_for(grade))
        return named or tuple(period for period in lunches if not period.grades)

    def period_at(self, minute: int, grade: str | None = None) -> Period | None:
        """The period that runs at this minute; for a grade, the one that names it goes before one for all."""
        running = [p for p in self.periods if p.start <= minute < p.end and p.is_for(grade)]
        if grade is None:
            running.sort(key=lambda period: bool(period.grades))
        else:
            running.sort(key=lambda period: not period.grades)
        return running[0] if running else None

    def starts(
        self,
        duration: int,
        *,
        grade: str | None = None,
        step: int | None = None,
        spanning: bool = False,
    ) -> tuple[int, ...]:
        """Start minutes for a session of `duration` minutes in the instruction of a grade, outside its lunch.

        `spanning` lets a session run over period boundaries where the gap is at most `passing_minutes`.
        See starts_within for `step`.
        """
        lunches = () if grade is None else self.lunches_for(grade)
        found: set[int] = set()
        for period, end in self._stretches(grade, spanning=spanning):
            stretch = Period(period.name, period.start, end)
            starts = _with_period_starts_only(stretch, period, duration, step)
            found.update(s for s in starts if not any(x.overlaps(s, s + duration) for x in lunches))
        return tuple(sorted(found))

    def teaches(self, start: int, end: int) -> bool:
        """Whether there is instruction from `start` to `end`, with no longer gap than to change rooms."""
        stretches = self._stretches(None, spanning=True)
        return any(period.start <= start and end <= last for period, last in stretches)

    def _stretches(self, grade: str | None, *, spanning: bool) -> Iterator[tuple[Period, int]]:
        """Each instruction period of a grade with the minute up to which a session begun in it may run."""
        teaching = [p for p in self.periods if p.kind is PeriodKind.INSTRUCTION and p.is_for(grade)]
        for place, period in enumerate(teaching):
            end = period.end
            for later in teaching[place + 1 :] if spanning else ():
                # A later period for other grades may lie inside this one; only a gap ends the stretch.
                if later.start - end > self.passing_minutes:
                    break
                end = max(end, later.end)
            yield period, end


def _with_period_starts_only(stretch: Period, period: Period, duration: int, step: int | None) -> list[int]:
    """Starts in a stretch that lie in its own first period: the later periods have their own turn."""
    return [start for start in starts_within(stretch, duration, step) if start < period.end]


def starts_within(period: Period, duration: int, step: int | None = None) -> tuple[int, ...]:
    """Start minutes for a session of `duration` minutes that lies wholly inside a period.

    By default only the period's own start, when children change rooms anyway; with `step` (5 for a class of
    one's own or one to one) also every `step` minutes after it. Raises ValueError below one minute.
    """
    if duration < 1 or (step is not None and step < 1):
        raise ValueError("A session and a step between starts last at least one minute.")
    latest = period.end - duration
    if latest < period.start:
        return ()
    return (period.start,) if step is None else tuple(range(period.start, latest + 1, step))


def find_bell_problems(name: str, periods: Sequence[Period], passing_minutes: int = 0) -> tuple[str, ...]:
    """Every fault of a bell schedule in words, each with the period it is in and what to do about it."""
    label = f'Bell schedule "{name}"'
    problems: list[str] = []
    if not name.strip():
        problems.append('A bell schedule needs a name, such as "Regular day".')
    if not periods:
        problems.append(f"{label} has no periods. Add at least one period with a start and an end.")
    if passing_minutes < 0:
        problems.append(f"{label} has {passing_minutes} passing minutes. Write 0 or more.")
    for period in periods:
        problems.extend(f"{label}, {fault}" for fault in _period_faults(period))
    problems.extend(
        f'{label} has more than one period named "{repeated}". Give each its own name.'
        for repeated in _repeated_names(periods)
    )
    problems.extend(
        f'{label}, period "{other.name}" ({_span(other)}) overlaps period "{one.name}" ({_span(one)}). '
        "Change one of the times, or name different grades for the two."
        for one, other in combinations(periods, 2)
        if one.overlaps(other.start, other.end) and _claim_same_children(one, other)
    )
    return tuple(problems)


def _period_faults(period: Period) -> Iterator[str]:
    """Faults of one period by itself."""
    if not period.name.strip():
        yield f'a period from {_span(period)} has no name. Name it, such as "Period 3".'
    if not (0 <= period.start < MINUTES_IN_DAY and 0 <= period.end < MINUTES_IN_DAY):
        yield f'period "{period.name}" ({_span(period)}) is not within one day. Use 00:00 to 23:59.'
    elif period.end <= period.start:
        yield (
            f'period "{period.name}" ends at {_shown(period.end)}, not after it starts at '
            f"{_shown(period.start)}. Correct one of the two; afternoon times need PM or 13:00 and later."
        )


def _repeated_names(periods: Sequence[Period]) -> list[str]:
    """Names that more than one period carries, however they are written in capitals."""
    seen: set[str] = set()
    repeated: dict[str, str] = {}
    for period in periods:
        key = period.name.strip().casefold()
        if key and key in seen:
            repeated.setdefault(key, period.name)
        seen.add(key)
    return list(repeated.values())


def _claim_same_children(one: Period, other: Period) -> bool:
    """Whether some grade would have to be in both periods (see BellSchedule)."""
    if one.grades and other.grades:
        return bool(one.grades & other.grades)
    particular, general = (one, other) if one.grades else (other, one)
    lunch_beside = particular.kind is PeriodKind.LUNCH and general.kind is not PeriodKind.LUNCH
    return not (particular.grades and lunch_beside)


def _span(period: Period) -> str:
    """`09:00 to 09:40`, for messages."""
    return f"{_shown(period.start)} to {_shown(period.end)}"
