"""What calendar, log and what happened change of a week, in words."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from schedule.weeks.day_shape import DayShape, day_off_words
from schedule.weeks.day_truth import Off, off_words, otherwise_words, short_words
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import (
    AsHeld,
    StraightLeg,
    held_by,
    part_of,
    shapes_of,
    standings_among,
    straight_legs,
)
from schedule.weeks.selectors.leaving import Gone, gone_from
from travel.places.models import Building

type Row = DayItem | PlannedSession


def _rows_of(week: WeekPlan, date: dt.date | None) -> list[Row]:
    """All of a week, or of one date of it, whoever may see it."""
    on = {"week": week} if date is None else {"week": week, "date": date}
    return [*PlannedSession.objects.filter(**on), *DayItem.objects.filter(**on)]


def _by_date(every: Iterable[Row]) -> dict[dt.date, list[Row]]:
    found: dict[dt.date, list[Row]] = defaultdict(list)
    for row in every:
        found[row.date].append(row)
    return found


def _uids(rows: Mapping[dt.date, Sequence[Row]]) -> list[UUID]:
    return [row.uid for several in rows.values() for row in several if isinstance(row, PlannedSession)]


def _places_told(week: WeekPlan, shapes: Mapping[dt.date, DayShape]) -> dict[int, str]:
    """Names of the buildings by which something isn't as planned."""
    told = [one for shape in shapes.values() for one in _offs(shape)]
    ids = {one.building for one in told if one.building is not None}
    rows = Building.objects.filter(district=week.district, pk__in=ids) if ids else ()
    return {row.pk: row.name for row in rows}


@dataclass(frozen=True, slots=True)
class HeldOtherwise:
    """How a session that takes place is held: what is left of its time, without whom, and in spite of what.

    `words` says the first and the last, as clauses; `without` are students' ids.
    """

    start: int | None = None
    end: int | None = None
    words: str = ""
    without: frozenset[int] = frozenset()


AS_PLANNED = HeldOtherwise()


def _changed(
    day: Sequence[DayItem | PlannedSession], shape: DayShape, names: Mapping[int, str]
) -> dict[str, HeldOtherwise]:
    """By a session's uid."""
    found: dict[str, HeldOtherwise] = {}
    for at in {*shape.short, *shape.without, *shape.otherwise}:
        short = shape.short.get(at)
        told = [short_words(short, names)] if short is not None else []
        told += sorted(filter(None, map(otherwise_words, shape.otherwise.get(at, ()))))
        start, end = (short.start, short.end) if short is not None else (None, None)
        without = shape.without.get(at, frozenset())
        found[str(_known_by(day[at]))] = HeldOtherwise(start, end, "; ".join(told), without)
    return found


@dataclass(frozen=True, slots=True)
class KnownRows:
    """All rows of some dates, whoever may see them, and who isn't in their sessions anymore."""

    every: Sequence[Row]
    gone: Gone


class WeekMarks:
    """What calendar and log change of a week, or of one date of it, in words, by what a page knows its rows by."""

    def __init__(
        self,
        week: WeekPlan,
        by: Person | None = None,
        date: dt.date | None = None,
        known: KnownRows | None = None,
    ) -> None:
        rows = _by_date(_rows_of(week, date) if known is None else known.every)
        # Each row stands at the place that its date's shape knows it by.
        self._parts = {day: [part_of(one) for one in several] for day, several in rows.items()}
        self.gone = gone_from(_uids(rows)) if known is None else known.gone
        self._standings = standings_among(week.teacher, self._parts, self.gone)
        self.shapes = shapes_of(week.teacher, self._parts, by, self._standings)
        self.teacher = week.teacher
        self.names = _places_told(week, self.shapes)
        self._off: dict[str | int, str] = {}
        self._elsewhere: dict[int, str] = {}
        self._changed: dict[str, HeldOtherwise] = {}
        for of, day in rows.items():
            shape = self.shapes[of]
            self._changed |= _changed(day, shape, self.names)
            for at, off in shape.off.items():
                self._off[_known_by(day[at])] = off_words(off, self.names)
            for at, off in shape.elsewhere.items():
                self._elsewhere[day[at].pk] = off_words(off, self.names)

    def held(self) -> dict[UUID, AsHeld]:
        """What each session comes to, as `as_held` has it."""
        return {uid: one for (uid, _), one in held_by(self._parts, self._standings).items()}

    def off_session(self, uid: str) -> str:
        """Why a session doesn't take place, empty if it does."""
        return self._off.get(uid, "")

    def changed(self, uid: str) -> "HeldOtherwise":
        """How a session is held otherwise than planned."""
        return self._changed.get(uid, AS_PLANNED)

    def off_item(self, pk: int) -> str:
        """Why a drive, lunch or preparation doesn't take place, empty if it does."""
        return self._off.get(pk, "")

    def elsewhere(self, pk: int) -> str:
        """Why something can't be held where it was planned, empty if it can."""
        return self._elsewhere.get(pk, "")

    def is_off(self, date: dt.date) -> bool:
        """Whether no session of a date takes place and nobody drives."""
        return date in self.shapes and self.shapes[date].is_off

    def reason(self, date: dt.date) -> str:
        """Why no session of a date takes place, as a sentence."""
        return day_off_words(self.shapes[date], self.names) if date in self.shapes else ""

    def stops(self, date: dt.date) -> tuple[int, ...]:
        """Buildings driven to on a date."""
        return self.shapes[date].stops if date in self.shapes else ()

    def straight(self) -> list[tuple[dt.date, StraightLeg]]:
        """Drives past what is left out, with their dates."""
        found = straight_legs(self.teacher, self.shapes)
        return [(date, leg) for date, legs in found.items() for leg in legs]


def _offs(shape: DayShape) -> Iterator[Off]:
    """Everything by which a day isn't as planned."""
    yield from shape.off.values()
    yield from shape.left_out.values()
    yield from (one.off for one in shape.short.values())


def week_marks(
    week: WeekPlan,
    by: Person | None = None,
    date: dt.date | None = None,
    known: KnownRows | None = None,
) -> WeekMarks:
    """What calendar and log change of a week as they stand; `by` a substitute, for whoever stands in.

    `date`: of that date alone, in the same number of queries. `known`: where its rows were read already.
    """
    return WeekMarks(week, by, date, known)


def _known_by(row: DayItem | PlannedSession) -> str | int:
    return str(row.uid) if isinstance(row, PlannedSession) else row.pk
