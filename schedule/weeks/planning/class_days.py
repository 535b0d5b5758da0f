"""When classes are at school and have lunch on a date, where these are their own and not their grade's."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from schedule.calendar.laid_out import DayFacts, day_is_named
from schedule.calendar.models import ClassDayTime
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.spans import Span, gaps, joined
from schedule.calendar.starts import Bar, Hold, spoken
from schedule.calendar.words import listed


@dataclass(frozen=True, slots=True)
class ClassDays:
    """Own times of classes, by class."""

    rows: Mapping[int, tuple[ClassDayTime, ...]] = field(default_factory=dict)

    def away(self, school_class: int | None, facts: DayFacts) -> Iterator[Hold]:
        """The times of a date when a class with hours of its own isn't at school; none where it has none."""
        rows = self._on(school_class, ClassDayTime.Kind.THERE, facts.date)
        if not rows:
            return
        there = joined(_spans(rows, facts))
        name = rows[0].school_class.name
        words = f"is at school {listed([spoken(one) for one in there])}" if there else "isn't at school on this day"
        bar = Bar("class_not_there", f"{name} {words}", ask_about(rows[0]))
        yield from (Hold(span, bar) for span in gaps(there))

    def lunch(self, school_class: int | None, facts: DayFacts) -> tuple[Span, ...] | None:
        """When a class has a lunch of its own on a date; None where it has its grade's."""
        rows = self._on(school_class, ClassDayTime.Kind.LUNCH, facts.date)
        return joined(_spans(rows, facts)) or None

    def _on(self, school_class: int | None, kind: str, date: dt.date) -> list[ClassDayTime]:
        """Rows of a class that hold on a date, whatever weekday they are about."""
        mine = self.rows.get(school_class, ()) if school_class is not None else ()
        return [row for row in mine if row.kind == kind and row.holds_on(date)]


def _spans(rows: list[ClassDayTime], facts: DayFacts) -> list[Span]:
    return [(minutes_of(row.start), minutes_of(row.end)) for row in rows if day_is_named(row.days, facts)]


def ask_about(row: ClassDayTime) -> str:
    """Whom to ask about a class's own day."""
    return f"{row.school_class.class_teacher or 'the teacher'} of {row.school_class.name}"


def load_class_days(buildings: Collection[int]) -> ClassDays:
    """Own times of all classes of some buildings, by their keys."""
    found: dict[int, list[ClassDayTime]] = defaultdict(list)
    for row in ClassDayTime.objects.filter(school_class__building__in=buildings).select_related("school_class"):
        found[row.school_class_id].append(row)
    return ClassDays({key: tuple(rows) for key, rows in found.items()})
