"""The teacher's rules as days of a planning problem."""

import datetime as dt
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from accounts.dates import day_words
from accounts.errors import ApplicationError
from schedule.calendar.models import ContractDay, TeacherRules, TimedMeeting
from schedule.calendar.selectors.school_days import minutes_of
from schedule.planner.problem import Block, Day, LongestStretch, Lunch, Preparation

type Span = tuple[int, int]

BUSY = "Busy (own calendar)"


@dataclass(frozen=True, slots=True)
class DayRules:
    """Days for the planner, and sentences about what did not fit into them."""

    days: tuple[Day, ...]
    notes: tuple[str, ...]


def contract_span(row: ContractDay) -> Span:
    """Start and end of a contract day in minutes."""
    return minutes_of(row.start), minutes_of(row.end)


def planner_days(
    dates: Sequence[dt.date],
    contract: dict[int, ContractDay],
    rules: TeacherRules,
    meetings: Sequence[TimedMeeting],
    busy: Mapping[dt.date, Sequence[Span]] | None = None,
) -> DayRules:
    """A planner day for each date; raises ``ApplicationError`` where two meetings overlap.

    ``busy``: times of the teacher's own calendars; what of them no meeting takes anyway blocks as well.
    """
    notes: list[str] = []
    days: list[Day] = []
    for date in dates:
        span = contract_span(contract[date.weekday()])
        days.append(
            Day(
                id=date.isoformat(),
                start=span[0],
                end=span[1],
                label=f"{date:%A}",
                start_place=rules.start_place.code if rules.start_place else None,
                end_place=rules.end_place.code if rules.end_place else None,
                lunch=_lunch(rules, span, date, notes),
                blocks=with_busy(_blocks(date, span, meetings, notes), span, (busy or {}).get(date, ())),
                preparation_minutes=_daily_preparation(rules),
            )
        )
    return DayRules(tuple(days), tuple(notes))


def _daily_preparation(rules: TeacherRules) -> int:
    return rules.preparation_minutes if rules.preparation_per == TeacherRules.PreparationPer.DAY else 0


def weekly_preparation(rules: TeacherRules, dates: int, contract_days: int) -> Preparation:
    """The wish over the week.

    Minutes in a fortnight are halved for one week, and a week cut short by closures asks for its share of days.
    """
    share = 0
    if rules.preparation_per == TeacherRules.PreparationPer.FORTNIGHT:
        share = rules.preparation_minutes * dates // (2 * max(1, contract_days))
    return Preparation(share, rules.preparation_smallest_block)


def longest_stretch(rules: TeacherRules) -> LongestStretch:
    """The wish for a break."""
    return LongestStretch(rules.longest_stretch)


def _lunch(rules: TeacherRules, span: Span, date: dt.date, notes: list[str]) -> Lunch | None:
    if rules.lunch_minutes == 0:
        return None
    earliest, latest = minutes_of(rules.lunch_earliest), minutes_of(rules.lunch_latest_end)
    if max(earliest, span[0]) + rules.lunch_minutes > min(latest, span[1]):
        notes.append(f"{date:%A}: the contract day has no room for the lunch window, so no lunch is planned.")
        return None
    return Lunch(rules.lunch_minutes, earliest, latest)


def _span_of(block: Block) -> Span:
    return block.start, block.end


def _blocks(date: dt.date, span: Span, meetings: Sequence[TimedMeeting], notes: list[str]) -> tuple[Block, ...]:
    found: list[Block] = []
    for row in meetings:
        if not row.is_on(date):
            continue
        start, end = max(minutes_of(row.start), span[0]), min(minutes_of(row.end), span[1])
        if start < minutes_of(row.start) or end < minutes_of(row.end) or start >= end:
            notes.append(f"{date:%A}: “{row.title}” reaches outside the contract day; only the part inside counts.")
        if start < end:
            found.append(Block(start, end, row.building.code if row.building else None, row.title))
    found.sort(key=_span_of)
    for before, after in itertools.pairwise(found):
        if before.end > after.start:
            raise ApplicationError(
                f"“{before.label}” and “{after.label}” overlap on {day_words(date)}. Move or remove one of them.",
                code="meetings_overlap",
            )
    return tuple(found)


def with_busy(blocks: Sequence[Block], span: Span, busy: Sequence[Span]) -> tuple[Block, ...]:
    """Meetings, and the busy times inside the contract day that lie beside them."""
    found = list(blocks)
    for start, end in busy:
        begin, until = max(start, span[0]), min(end, span[1])
        for block in blocks:
            if block.start < until and block.end > begin:
                if begin < block.start:
                    found.append(Block(begin, block.start, None, BUSY))
                begin = block.end
        if begin < until:
            found.append(Block(begin, until, None, BUSY))
    return tuple(sorted(found, key=lambda block: (block.start, block.end)))
