"""What is told, in words. Pure. Schools, spaces, classes and grown-ups by name; students by marked code."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from schedule.calendar.words import clock_words
from schedule.notices.day_changes import DayChange, How, KnownDay, KnownSession, cover_change, day_changes
from schedule.notices.students import Who, who_words

NOBODY: Who = {}
MOST_LINES = 12
"""More than these aren't read on a phone; the day sheet has them all."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message: a subject and its lines."""

    subject: str
    lines: tuple[str, ...]

    @property
    def text(self) -> str:
        """The lines, one under the other."""
        return "\n".join(self.lines)


def changes_message(
    was: KnownDay,
    now: KnownDay,
    *,
    date: dt.date,
    today: dt.date,
    teacher: str,
    school: str = "",
    who: Who = NOBODY,
) -> Message | None:
    """What changed of a date, as one message; None where nothing did.

    `school`: for an office, whose own school needs no name and for whom a space and a time say it all. `who`: codes
    of who comes, where the reader may know.
    """
    cover = cover_change(was, now)
    lines = _whole(was, now) or [_line(one, office=bool(school), who=who) for one in day_changes(was, now)]
    if cover is not None and now.sessions:
        lines.insert(0, _cover_line(*cover, teacher=teacher))
    if not lines:
        return None
    return Message(_subject(date, today, len(lines), school or teacher), tuple(_cut(lines)))


def _whole(was: KnownDay, now: KnownDay) -> list[str]:
    """One line where all of the day changed for one reason; empty where it didn't."""
    held, holds = _held(was), _held(now)
    if holds and not was.sessions:
        first, last = min(one.start for one in holds), max(one.end for one in holds)
        return [f"Planned: {_sessions(len(holds))}, {clock_words(first)} to {clock_words(last)}."]
    if holds and len(holds) > 1 and not held:
        return [f"Held after all: {_sessions(len(holds))}."]
    return [f"None of the {len(held)} sessions is held: {why}." for why in _why_none(held, now) if not holds]


def _held(day: KnownDay) -> list[KnownSession]:
    return [one for one in day.sessions if not one.off]


def _why_none(held: Sequence[KnownSession], now: KnownDay) -> set[str]:
    """The one reason for which none of several sessions is held anymore; empty where there are more reasons."""
    reasons = {one.off for one in now.sessions}
    return reasons if len(held) > 1 and len(reasons) == 1 else set()


def _sessions(count: int) -> str:
    return f"{count} session{'' if count == 1 else 's'}"


def evening_message(
    day: KnownDay, unusual: Iterable[KnownSession], *, date: dt.date, teacher: str, who: Who = NOBODY
) -> Message | None:
    """Tomorrow, where it differs from the usual day; None where it doesn't. `unusual`: not at their usual times."""
    odd = {one.uid for one in unusual}
    told = [(one, _odd_words(one, usual=one.uid not in odd)) for one in day.sessions]
    lines = [f"{day.cover} stands in for {teacher}."] if day.cover and day.sessions else []
    lines += [f"{_what(one, who=who)}: {words}." for one, words in told if words]
    return Message(f"Tomorrow, {_date(date)}: not the usual day", tuple(_cut(lines))) if lines else None


def _odd_words(one: KnownSession, *, usual: bool) -> str:
    """What isn't as usual about a session; empty where all is."""
    if one.off:
        return f"not held, {one.off}"
    beside = f"together with {one.beside}" if one.beside else ""
    odd = ", ".join(filter(None, (one.otherwise, beside)))
    return odd or ("" if usual else "not the usual time")


def trial_message(who: str) -> Message:
    """What tells that a way works."""
    return Message("It works", (f"This is the test message that {who} asked for. Nothing has changed.",))


def _cut(lines: Sequence[str]) -> list[str]:
    """The first ones, and that there are more."""
    if len(lines) <= MOST_LINES:
        return list(lines)
    return [*lines[: MOST_LINES - 1], f"And {len(lines) - MOST_LINES + 1} more: see the day sheet."]


def _subject(date: dt.date, today: dt.date, count: int, about: str) -> str:
    near = {today: "Today", today + dt.timedelta(days=1): "Tomorrow"}.get(date)
    when = f"{near}, {_date(date)}" if near else _date(date)
    return f"{when}: {count} change{'' if count == 1 else 's'} ({about})"


def _date(date: dt.date) -> str:
    return f"{date:%A, %B} {date.day}"


def _cover_line(was: str, now: str, *, teacher: str) -> str:
    if now:
        return f"{now} stands in for {teacher}."
    return f"{was} no longer stands in for {teacher}."


def _what(one: KnownSession, *, office: bool = False, who: Who = NOBODY) -> str:
    """When and where; for an office neither the class nor its own school."""
    if office:
        return f"{clock_words(one.start)} to {clock_words(one.end)}, {one.space or 'no space of its own'}"
    place = f"{one.school}, {one.space}" if one.space else one.school
    return f"{clock_words(one.start)} {one.class_name or 'session'}{who_words(who.get(one.uid, ()))}, {place}"


def _line(change: DayChange, *, office: bool, who: Who) -> str:
    was, now = change.was, change.now
    told = _HOW_WORDS[change.how].format(
        off=now.off,
        otherwise=now.otherwise,
        beside=now.beside,
        times=f"{clock_words(was.start)} to {clock_words(was.end)}",
        place=was.space or was.school,
    )
    return f"{_what(now, office=office, who=who)}: {told}."


_HOW_WORDS = {
    How.NEW: "new",
    How.GONE: "taken out",
    How.OFF: "not held, {off}",
    How.ON_AGAIN: "held after all",
    How.MOVED: "moved, it was {times}",
    How.ELSEWHERE: "elsewhere, it was {place}",
    How.OTHERWISE: "{otherwise}",
    How.AS_PLANNED: "as planned after all",
    How.BESIDE: "together with {beside}",
    How.BESIDE_AGAIN: "together as planned after all",
}
