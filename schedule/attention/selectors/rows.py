"""The rows of the attention page, and those about minutes: behind now, and short later."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

from accounts.dates import date_words
from caseload.ledger.forecast import Forecast
from caseload.ledger.outlook import Outlook, Shortage
from caseload.plans.frequency import FrequencyUnit
from caseload.plans.models import Student
from schedule.attention.causes import closing_name, count_words
from schedule.attention.selectors.forecast import LineOutlook, TeacherLedgers
from schedule.calendar.closed_days import CLOSING_KINDS
from schedule.calendar.models import CalendarEntry
from schedule.make_ups.minutes import OpenMinutes
from schedule.make_ups.selectors.needs import MakeUpNeed

TOO_LITTLE = "too little is planned"
"""The cause where it isn't a day without school."""

EACH_WEEK = " each week"


class Kind(IntEnum):
    """Why a row is there; the smaller, the sooner."""

    UNSERVED = 0
    ENDED = 1
    BEHIND = 2
    UNDECIDED = 3
    UNLOGGED = 4
    BEYOND = 5
    SHORT = 6
    PLAN_ENDS = 7
    REVIEW = 8
    REPORT = 9
    NO_DATA = 10
    PROBLEM = 11


KIND_WORDS = {
    Kind.UNSERVED: "Nobody gives them",
    Kind.ENDED: "No longer held",
    Kind.BEHIND: "Behind now",
    Kind.UNDECIDED: "The team decides",
    Kind.UNLOGGED: "Not logged",
    Kind.BEYOND: "More than owed",
    Kind.SHORT: "Will be behind",
    Kind.PLAN_ENDS: "Plan ends",
    Kind.REVIEW: "Annual review",
    Kind.REPORT: "Progress report",
    Kind.NO_DATA: "No data lately",
    Kind.PROBLEM: "Can't be counted",
}


@dataclass(frozen=True, slots=True)
class AttentionRow:
    """One thing that waits. `student` and `line_id` are empty where it isn't about one; `due` is its date.

    `words` name no student; `minutes` are those that it is about, a usual session has `usual`. Rows with the same
    `cause` are said together. `ahead` are minutes that make-ups can be planned for before
    they are missed. `things` is how many sessions, services or goals wait in it, `students` whose
    they are where it is about several.
    """

    kind: Kind
    words: str
    due: dt.date
    student: Student | None = None
    line_id: int | None = None
    statement: str = ""
    minutes: int = 0
    entry_id: int | None = None
    cause: str = ""
    usual: int = 0
    ahead: tuple[OpenMinutes, ...] = ()
    things: int = 1
    students: tuple[int, ...] = ()

    @property
    def label(self) -> str:
        """The kind in words."""
        return KIND_WORDS[self.kind]


def minutes_words(count: int) -> str:
    """Minutes with their noun."""
    return count_words(count, "minute", "minutes")


# ---- behind now ------------------------------------------------------------------------------------------


def behind_rows(needs: Iterable[MakeUpNeed], reasons: Mapping[str, str]) -> Iterator[AttentionRow]:
    """Services with minutes to make up; `reasons` are the district's words by code."""
    for need in needs:
        if need.due is not None:
            booked = sum(one.minutes for one in need.booked)
            words = f"{minutes_words(need.minutes)} to make up by {date_words(need.due)}"
            words += f"; {minutes_words(booked)} booked already." if booked else "."
            yield AttentionRow(
                Kind.BEHIND,
                words,
                need.due,
                need.student,
                need.line.pk,
                need.line.statement,
                need.minutes,
                cause=" and ".join(dict.fromkeys(_missed_words(one, reasons) for one in need.open)),
                usual=need.usual,
            )


def _missed_words(one: OpenMinutes, reasons: Mapping[str, str]) -> str:
    """What was missed, and when: "assembly on September 14, 2026"."""
    if one.missed is None:
        return f"never placed in the {one.since}"
    return f"{reasons.get(one.reason, '') or 'missed'} on {date_words(one.missed)}"


# ---- short later -----------------------------------------------------------------------------------------


def closings_ahead(loaded: TeacherLedgers) -> Sequence[CalendarEntry]:
    """Days without school that aren't over, of the district and its buildings (one query)."""
    rows = CalendarEntry.objects.filter(
        district=loaded.teacher.district, kind__in=CLOSING_KINDS, last_date__gte=loaded.today
    )
    return list(rows.order_by("first_date", "pk"))


def short_rows(
    outlooks: Iterable[LineOutlook],
    closings: Sequence[CalendarEntry],
    make_up_days: int,
    spare: Mapping[int, int],
) -> Iterator[AttentionRow]:
    """Services that will be behind: a row for each cause of a gap, or one for what past misses make likely.

    What is behind already is told by `behind_rows` and makes no row here. `spare`: by line, booked minutes beyond
    what is open today; they answer the oldest shortage.
    """
    for one in outlooks:
        seen = one.doubtful
        if seen is not None and seen.forecast.gap:
            yield from _gap_rows(one, seen, closings, make_up_days, spare.get(one.line.pk, 0))
        elif seen is not None:
            yield _short_row(one, seen, outlook_words(seen), f"likely short by {seen.name}", 0)


def _gap_rows(
    one: LineOutlook, seen: Outlook, closings: Sequence[CalendarEntry], make_up_days: int, spare: int
) -> Iterator[AttentionRow]:
    """A row for each cause of a line's gap."""
    by_cause: dict[str, list[OpenMinutes]] = {}
    for short in seen.shortages:
        taken = min(spare, short.minutes)
        spare -= taken
        if short.minutes > taken:
            due = min(short.span.last + dt.timedelta(days=make_up_days), one.last)
            open_ = OpenMinutes(short.minutes - taken, due, short.span.name)
            by_cause.setdefault(_cause_of(one, short, closings), []).append(open_)
    for cause, found in by_cause.items():
        minutes = sum(open_.minutes for open_ in found)
        if cause.startswith(TOO_LITTLE):
            yield _short_row(one, seen, outlook_words(seen), _where_too_little(found, cause), minutes)
        else:
            words = f"{minutes_words(minutes)} short by {cause}; {_reserve_words(seen.forecast.reserve)}"
            yield _short_row(one, seen, words, cause, minutes, tuple(found))


def _where_too_little(found: Sequence[OpenMinutes], cause: str) -> str:
    """Each week only where that is so: what is short in one week alone is short in that one."""
    return f"{TOO_LITTLE} in the {found[0].since}" if cause.endswith(EACH_WEEK) and len(found) == 1 else cause


def _short_row(
    one: LineOutlook,
    seen: Outlook,
    words: str,
    cause: str,
    minutes: int,
    ahead: tuple[OpenMinutes, ...] = (),
) -> AttentionRow:
    return AttentionRow(
        Kind.SHORT,
        words,
        seen.until,
        one.student,
        one.line.pk,
        one.statement(seen.until),
        minutes,
        cause=cause,
        usual=one.usual,
        ahead=ahead,
    )


def _cause_of(one: LineOutlook, short: Shortage, closings: Sequence[CalendarEntry]) -> str:
    """The days without school in a week, as the calendar calls them, and absences; else that it is too little."""
    building = one.line.plan.student.building_id
    names = [_closing_on(day, building, closings) for day in short.closed]
    names += [f"an absence planned for {date_words(day)}" for day in short.away]
    if any(names):
        return " and ".join(dict.fromkeys(name for name in names if name))
    weekly = one.line.unit in {FrequencyUnit.DAY, FrequencyUnit.WEEK}
    return f"{TOO_LITTLE}{EACH_WEEK}" if weekly else f"{TOO_LITTLE} in {short.span.name}"


def _closing_on(day: dt.date, building: int, closings: Sequence[CalendarEntry]) -> str:
    """What closes a building on a day, its own entry before the district's; empty where nothing says so."""
    holding = [one for one in closings if one.first_date <= day <= one.last_date]
    ranked = [one for rank in (building, None) for one in holding if one.building_id == rank]
    return closing_name(ranked[0].title, ranked[0].get_kind_display()) if ranked else ""


def rate_words(found: Forecast) -> str:
    """How often sessions are likely to be missed, and how sure that is."""
    return (
        f"About {found.rate:.0%} of sessions are likely to be missed (in 8 of 10 cases {found.rate_low:.0%} to "
        f"{found.rate_high:.0%})"
    )


def outlook_words(seen: Outlook) -> str:
    """An outlook in a sentence."""
    found = seen.forecast
    if found.gap:
        text = (
            f"{found.needed} minutes are needed by {seen.name} and {found.planned} are planned: {found.gap} short."
        )
    else:
        text = f"{rate_words(found)}: with a probability of {found.ends_short:.0%} it ends short by {seen.name}."
    reserve = _reserve_words(found.reserve) if found.reserve != 0 else ""
    return f"{text} {reserve[:1].upper()}{reserve[1:]}".strip()


def _reserve_words(reserve: int | None) -> str:
    """What to hold in reserve, to go on a sentence."""
    if reserve is None:
        return "no realistic number of make-ups is enough: ask the plan's team."
    return f"hold {count_words(reserve, 'make-up', 'make-ups')} in reserve."
