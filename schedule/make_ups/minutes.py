"""Make-ups: which minutes are open and until when, how they may be cut or joined, and which slot comes first. Pure.

Integer minutes and local dates; `today` comes in. That missed minutes are made up within so many days is the
district's rule (`LedgerSettings.make_up_days`), and so is its shortest session (`least_minutes`): fewer are added
to another, or given after one. The lengths below are common practice, no source.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from caseload.ledger.terms import Effect, PeriodAccount, Rules, SessionRecord
from schedule.calendar.words import listed, period_words

SHORTEST_PIECE = 15
"""A session isn't cut into pieces shorter than this. Common practice, no source."""

JOINED_SESSIONS = 2
"""At most so many usual sessions are joined into one. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class OpenMinutes:
    """Minutes that wait to be made up, the last day on which they should be, and the period that owes them.

    `missed` is the day of the session that was missed, with the `reason` code, its `record` and the `session` that
    others were in as well; all are empty where no session was: a week that held too few, or one still to come.
    """

    minutes: int
    due: dt.date
    since: str
    missed: dt.date | None = None
    reason: str = ""
    record: str = ""
    session: str = ""


@dataclass(frozen=True, slots=True)
class BookedMinutes:
    """Minutes of a make-up that is booked, and the day of the missed session that it is for, if it is for one."""

    minutes: int
    makes_up_for: dt.date | None = None


def open_minutes(
    periods: Iterable[PeriodAccount],
    sessions: Iterable[SessionRecord],
    rules: Rules,
    *,
    make_up_days: int,
    last: dt.date,
) -> tuple[OpenMinutes, ...]:
    """What each missed session leaves open, oldest first, booked make-ups not looked at.

    Sessions that wait for their log aren't open: nobody knows yet whether they were missed. Minutes are due so many
    days after the session that was missed and is owed (else after the period's end), and never after the
    service's `last` day.
    """
    every = list(sessions)
    given = _given_for(every)
    missed = [one for one in every if one.missed and not one.makes_up and one.effect(rules) is Effect.OWED]
    found: list[OpenMinutes] = []
    for period in periods:
        minutes = max(period.still_owed - period.unlogged, 0)
        if minutes:
            held = [one for one in missed if one.day in period.span]
            found += _of_period(period, minutes, held, given, dt.timedelta(days=make_up_days))
    return tuple(replace(one, due=min(one.due, last)) for one in found)


def _given_for(sessions: Iterable[SessionRecord]) -> Counter[dt.date]:
    """Minutes that make-ups have given, by the day of the missed session that each was booked for."""
    given = Counter[dt.date]()
    for one in sessions:
        if one.makes_up and one.makes_up_for is not None:
            given[one.makes_up_for] += one.delivered or 0
    return given


def _of_period(
    period: PeriodAccount,
    minutes: int,
    missed: Iterable[SessionRecord],
    given: Mapping[dt.date, int],
    days: dt.timedelta,
) -> list[OpenMinutes]:
    """A period's open minutes by missed session, oldest first.

    What was made up for a session answered that one; what was made up for none answered the oldest.
    """
    name = period.span.name
    found: list[OpenMinutes] = []
    for one in sorted(missed, key=lambda one: (one.day, one.id), reverse=True):
        part = min(minutes, max(one.missed - given.get(one.day, 0), 0))
        if part:
            found.insert(0, OpenMinutes(part, one.day + days, name, one.day, one.reason, one.id))
        minutes -= part
    return [OpenMinutes(minutes, period.span.last + days, name), *found] if minutes else found


def less_booked(
    open_: Iterable[OpenMinutes], booked: Iterable[BookedMinutes]
) -> tuple[tuple[OpenMinutes, ...], int]:
    """What is left when booked make-ups have been given, and the booked minutes beyond everything.

    A make-up that is booked for a session takes its minutes; what is beyond those, and any other, the oldest.
    """
    left = list(open_)
    spare = 0
    for make_up in booked:
        minutes = make_up.minutes
        if make_up.makes_up_for is not None:
            left, minutes = _taken(left, minutes, make_up.makes_up_for)
        spare += minutes
    left, spare = _taken(left, spare, None)
    return tuple(left), spare


def _taken(open_: Iterable[OpenMinutes], minutes: int, day: dt.date | None) -> tuple[list[OpenMinutes], int]:
    """Minutes taken from what one day's missed session left open, or from all; and the minutes beyond that."""
    left: list[OpenMinutes] = []
    for one in open_:
        part = min(minutes, one.minutes) if day in {None, one.missed} else 0
        minutes -= part
        if part < one.minutes:
            left.append(replace(one, minutes=one.minutes - part))
    return left, minutes


@dataclass(frozen=True, slots=True)
class Lengths:
    """Minutes of a service's `usual` session, and of the shortest that the district gives (`least`)."""

    usual: int
    least: int

    @property
    def shortest_alone(self) -> int:
        """The fewest minutes that are a session of their own: a usual one is never too short."""
        return min(max(self.least, 1), self.usual)


def piece_lengths(owed: int, lengths: Lengths, *, shortest: int = SHORTEST_PIECE) -> tuple[int, ...]:
    """Lengths of one make-up session that are worth trying for `owed` minutes, longest first.

    Joined: up to `JOINED_SESSIONS` usual sessions at once. Usual: one session. Split: half of a session, where
    neither half is shorter than `shortest` or too short for a session. Each also with the rest added that would be
    too short for a session of its own; where all that is owed is so short, there is none.
    """
    usual, alone = lengths.usual, lengths.shortest_alone
    if usual <= 0 or owed < alone:
        return ()
    one = min(owed, usual)
    tried = {min(owed, JOINED_SESSIONS * usual), one}
    half = -(-one // 2)
    if one - half >= max(shortest, alone):
        tried.add(half)
    tried |= {owed for length in tried if 0 < owed - length < alone}
    return tuple(sorted(tried, reverse=True))


def too_few_words(minutes: int) -> str:
    """What to do about minutes that are no session of their own."""
    return (
        f"{_minutes(minutes)} can't be a session alone. Stay that long after another session, and log "
        "it as a make-up."
    )


def lengths_offered(one: OpenMinutes, lengths: Lengths) -> tuple[int, ...]:
    """Lengths in which open minutes are offered: the whole that was missed; less only where that fits nowhere.

    Minutes that no session was missed for are offered as one usual session at a time.
    """
    whole = one.minutes if one.missed is not None else pieces_to_place(one.minutes, lengths.usual)[0]
    whole = min(whole, JOINED_SESSIONS * lengths.usual)
    return (whole, *(length for length in piece_lengths(whole, lengths) if length < whole))


@dataclass(frozen=True, slots=True)
class MakeUpSlot:
    """A moment at which a make-up fits, in a week as it stands. Minutes after local midnight.

    `wishes_missed` are minutes that it takes from what the teacher's contract wishes for (preparation, a longest
    stretch). `at_building`: the teacher is in this building on that day anyway. `added_miles` are driven more than
    without it; fewer than none where another way home is shorter. `mates` are teachers who give the service as well
    and are in the building then, with nothing but preparation planned.
    """

    date: dt.date
    start: int
    end: int
    building_code: str
    building_name: str
    period: str
    space_id: int | None
    space_name: str
    added_drive_minutes: int
    at_building: bool
    added_miles: Decimal = Decimal(0)
    wishes_missed: int = 0
    in_force: bool = True
    late: bool = False
    mates: tuple[str, ...] = ()

    @property
    def minutes(self) -> int:
        """Its length."""
        return self.end - self.start

    @property
    def miles_words(self) -> str:
        """How many miles it adds."""
        if self.added_miles > 0:
            return f"{self.added_miles} more miles" if self.added_miles != 1 else "1 more mile"
        return "no more miles"

    @property
    def words(self) -> str:
        """What it costs, in a sentence."""
        what = period_words([self.period]) if self.period else "the time"
        drive = self.added_drive_minutes
        if self.at_building and drive <= 0:
            text = f"You are at {self.building_name} anyway, and {what} is open."
        elif self.at_building:
            text = f"You are at {self.building_name} that day; {what} adds {_minutes(drive)} of driving."
        elif drive > 0:
            text = f"It takes a drive to {self.building_name}: {_minutes(drive)} more at the wheel."
        else:
            text = f"{self.building_name} is on your way, and {what} is open."
        if self.wishes_missed > 0:
            text += f" It takes {_minutes(self.wishes_missed)} of preparation or of another wish of your rules."
        if self.mates:
            text += f" {listed(self.mates)} can give it with you then, without a drive."
        return text


def _minutes(count: int) -> str:
    return "1 minute" if count == 1 else f"{count} minutes"


def in_order_of_date(slots: Iterable[MakeUpSlot], due: dt.date) -> tuple[MakeUpSlot, ...]:
    """Each moment once, by date and time; those after the due date are marked as late."""
    found: dict[tuple[dt.date, int], MakeUpSlot] = {}
    for one in sorted(slots, key=lambda one: (one.date, one.start, one.added_drive_minutes)):
        found.setdefault((one.date, one.start), replace(one, late=one.date > due))
    return tuple(found.values())


def mates_first(slots: Iterable[MakeUpSlot]) -> tuple[MakeUpSlot, ...]:
    """Those that can be given together first, the others as they stand; in time comes before together."""
    return tuple(sorted(slots, key=lambda one: (one.late, not one.mates)))


def matching(
    slots: Iterable[MakeUpSlot], *, weekday: int | None = None, building: str = ""
) -> tuple[MakeUpSlot, ...]:
    """Slots of one weekday (0 is Monday) and of one building's code, where they are given."""
    return tuple(
        one for one in slots if weekday in {None, one.date.weekday()} and building in {"", one.building_code}
    )


def days_to_avoid(days_apart: int, meetings: Iterable[dt.date], *, daily: bool) -> frozenset[dt.date]:
    """Days on which a make-up would be beside a session of its own line, where the line keeps them apart.

    A service that meets on every day has no other days, so none is avoided then.
    """
    return frozenset() if days_apart == 0 or daily else frozenset(meetings)


def joined_open(open_: Iterable[OpenMinutes], lengths: Lengths) -> tuple[OpenMinutes, ...]:
    """Short remainders of neighboring periods joined into one as long as a usual session holds them.

    What is no session of its own is joined in any case.
    """
    usual, few = lengths.usual, lengths.shortest_alone
    found: list[OpenMinutes] = []
    for one in open_:
        if found and (found[-1].minutes + one.minutes <= usual or min(found[-1].minutes, one.minutes) < few):
            last = found[-1]
            found[-1] = replace(last, minutes=last.minutes + one.minutes, due=min(last.due, one.due))
        else:
            found.append(one)
    return tuple(found)


def pieces_to_place(minutes: int, usual: int) -> tuple[int, ...]:
    """Sessions of the usual length until the minutes are used up; a rest too short for one joins the last.

    The longest such session is still within `JOINED_SESSIONS` usual ones.
    """
    pieces: list[int] = []
    while minutes > 0:
        piece = min(usual, minutes)
        if pieces and piece < SHORTEST_PIECE:
            pieces[-1] += piece
        else:
            pieces.append(piece)
        minutes -= piece
    return tuple(pieces)
