"""What a published calendar says beyond what was decided before, held against the days that are saved.

Pure. An event is known by its dates and its title alone: identifiers of published calendars change with every
export, so a day that moved is a new one and an old one that is gone.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from schedule.calendar.published.words import CalendarFinding

type Told = tuple[dt.date, dt.date, str]
DAY_KINDS = frozenset({"closed", "no_students", "early_dismissal", "delayed_opening"})


@dataclass(frozen=True, slots=True)
class SavedDay:
    """An entry of the calendar: its key, its dates (both included), its kind and its title."""

    key: int
    first: dt.date
    last: dt.date
    kind: str
    title: str


@dataclass(frozen=True, slots=True)
class News:
    """What waits for a person.

    `new` and `changed`: recognized days that aren't saved yet, or are saved with other dates or as another kind;
    `ends`: a first or last day of the school year; `unrecognized`: no words fit; `gone`: saved days that the
    calendar said and says no more; `plain`: those of `new` and `changed` that can be saved without asking;
    `doubtful`: those whose words may mean something else, and ordinary events that may hide a day of their own.
    """

    new: tuple[CalendarFinding, ...]
    changed: tuple[CalendarFinding, ...]
    ends: tuple[CalendarFinding, ...]
    unrecognized: tuple[CalendarFinding, ...]
    gone: tuple[SavedDay, ...]
    plain: tuple[CalendarFinding, ...]
    doubtful: tuple[CalendarFinding, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything waits."""
        return any((self.new, self.changed, self.ends, self.unrecognized, self.gone, self.doubtful))


def told(finding: CalendarFinding) -> Told:
    """What an event is known by."""
    return finding.first, finding.last, finding.title


def undecided(findings: Iterable[CalendarFinding], settled: frozenset[Told]) -> tuple[CalendarFinding, ...]:
    """Findings of events that nobody decided about yet."""
    return tuple(finding for finding in findings if told(finding) not in settled)


def find_news(
    findings: Sequence[CalendarFinding], settled: frozenset[Told], days: Sequence[SavedDay], today: dt.date
) -> News:
    """What a reading brings beyond `settled`, held against the saved `days` of the same school or district."""
    open_ones = undecided(findings, settled)
    holding = _holding(open_ones, days)
    changed = _changed(holding, days)
    # An event of which anything else is to be decided is not plain.
    no_days = [finding for finding in open_ones if finding.kind not in DAY_KINDS]
    ends = tuple(finding for finding in no_days if finding.kind is not None)
    ending, left = set(map(told, ends)), set(map(told, no_days))
    return News(
        new=tuple(finding for finding in holding if finding not in changed),
        changed=changed,
        ends=ends,
        unrecognized=tuple(finding for finding in open_ones if not finding.matched),
        gone=_gone(findings, settled, days, today),
        plain=tuple(_plain(holding, days, today, left)),
        doubtful=tuple(_doubtful(open_ones, holding, today, ending)),
    )


def _plain(
    holding: Iterable[CalendarFinding], days: Sequence[SavedDay], today: dt.date, left: Collection[Told]
) -> Iterator[CalendarFinding]:
    """Days to come that leave nothing open."""
    for finding in holding:
        is_plain = not finding.doubt and finding.first >= today and told(finding) not in left
        if is_plain and not _contradicts(finding, days):
            yield finding


def _doubtful(
    open_ones: Iterable[CalendarFinding],
    holding: Collection[CalendarFinding],
    today: dt.date,
    ending: Collection[Told],
) -> Iterator[CalendarFinding]:
    """Days of today or later of which somebody has to be asked."""
    for finding in open_ones:
        is_day = finding in holding or finding.kind is None
        if finding.doubt and finding.last >= today and is_day and told(finding) not in ending:
            yield finding


def _holding(findings: Iterable[CalendarFinding], days: Sequence[SavedDay]) -> list[CalendarFinding]:
    """Days that are not among the saved ones."""
    return [finding for finding in findings if finding.kind in DAY_KINDS and not _is_saved(finding, days)]


def _changed(holding: Iterable[CalendarFinding], days: Sequence[SavedDay]) -> tuple[CalendarFinding, ...]:
    return tuple(finding for finding in holding if _corrects(finding, days))


def _is_saved(finding: CalendarFinding, days: Iterable[SavedDay]) -> bool:
    return any((day.first, day.last, day.kind) == (finding.first, finding.last, finding.kind) for day in days)


def _corrects(finding: CalendarFinding, days: Iterable[SavedDay]) -> bool:
    """Whether saving it changes a day that is there: the same title on the same first date."""
    return any((day.first, day.title) == (finding.first, finding.title) for day in days)


def _contradicts(finding: CalendarFinding, days: Iterable[SavedDay]) -> bool:
    """Whether another saved day says something else of one of its dates."""
    return any(
        day.first <= finding.last
        and day.last >= finding.first
        and day.kind != finding.kind
        and (day.first, day.title) != (finding.first, finding.title)
        for day in days
    )


def _gone(
    findings: Iterable[CalendarFinding], settled: frozenset[Told], days: Iterable[SavedDay], today: dt.date
) -> tuple[SavedDay, ...]:
    """Saved days from today on that were told and are no more; not those that have only another title or end."""
    begins: dict[dt.date, set[str]] = defaultdict(set)
    spans = set()
    for finding in findings:
        begins[finding.first].add(finding.title)
        if finding.kind in DAY_KINDS:
            spans.add((finding.first, finding.last))
    return tuple(
        day
        for day in days
        if day.last >= today
        and day.kind in DAY_KINDS
        and (day.first, day.last, day.title) in settled
        and day.title not in begins[day.first]
        and (day.first, day.last) not in spans
    )
