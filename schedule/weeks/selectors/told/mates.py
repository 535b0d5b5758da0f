"""What a day has made of the other teachers of joint sessions: away, there for less, or somebody stands in."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion
from schedule.calendar.selectors.covers import covers_between
from schedule.calendar.starts import spoken
from schedule.weeks.day_truth import Part, Why
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.planning.others.elsewhere import Elsewhere
from schedule.weeks.selectors.day_shapes import AsHeld, part_of, sessions_as_held

type OnItsDay = tuple[UUID | None, dt.date]
"""A session by its uid and its date."""

NOT_THERE = {
    Why.AWAY: "who is away",
    Why.LATE: "who comes too late for it",
    Why.CLASS_AWAY: "whose class is away",
    Why.AIDE_MISSING: "whose aide is missing",
}
"""What concerns one of two teachers alone: a closed school, a taken space, an absent student stand with both."""
MISSED = "who logged it as missed"


@dataclass(frozen=True, slots=True)
class Mates:
    """By session, who gives it, where the day is other than planned; and what is logged as missed, by service."""

    told: Mapping[OnItsDay, str] = field(default_factory=dict)
    missed: frozenset[tuple[UUID | None, int]] = frozenset()

    def differs(self, one: Elsewhere) -> bool:
        """Whether the day made another thing of who gives it than was planned."""
        return (one.uid, one.date) in self.told

    def words(self, one: Elsewhere, services: Collection[int]) -> str:
        """``Ada Vey``, ``Ada Vey, who is away``; `services`: those of the session that are given together."""
        told = self.told.get((one.uid, one.date))
        missed = any((one.uid, service) in self.missed for service in services)
        return told or (f"{one.teacher}, {MISSED}" if missed else one.teacher)


def mates_of(held: Iterable[Elsewhere]) -> Mates:
    """What calendar, log and "Something happened" say of sessions of others in force.

    Of a draft nothing is said. The number of queries grows with the other teachers alone.
    """
    wanted = {one.uid for one in held if one.uid is not None and not one.draft}
    if not wanted:
        return Mates()
    rows = PlannedSession.objects.filter(uid__in=wanted, week__status=WeekPlan.Status.PUBLISHED)
    days: dict[Person, dict[dt.date, list[Part]]] = defaultdict(lambda: defaultdict(list))
    for row in rows.select_related("week__teacher__district"):
        days[row.week.teacher][row.date].append(part_of(row))
    return Mates(_told(days), _missed(wanted))


def _told(days: Mapping[Person, Mapping[dt.date, Collection[Part]]]) -> dict[OnItsDay, str]:
    every = [date for dates in days.values() for date in dates]
    if not every:
        return {}
    covers = covers_between([one.pk for one in days], min(every), max(every))
    found: dict[OnItsDay, str] = {}
    for teacher, parts in days.items():
        as_held = sessions_as_held(teacher, {date: list(day) for date, day in parts.items()})
        for (uid, date), held in as_held.items():
            stands_in = covers.who_comes(date, uid, teacher.pk)
            if told := _words(str(teacher), held, stands_in):
                found[uid, date] = told
    return found


def _words(teacher: str, held: AsHeld, stands_in: str) -> str:
    """Who gives a session, where that isn't the teacher for all of it; else empty."""
    if held.off is not None:
        return f"{teacher}, {NOT_THERE[held.off.why]}" if held.off.why in NOT_THERE else ""
    if stands_in:
        return f"{stands_in}, who stands in for {teacher}"
    short = held.short
    if short is not None and short.off.why in NOT_THERE:
        return f"{teacher}, who is there only from {spoken((short.start, short.end))}"
    return ""


def _missed(uids: Collection[UUID]) -> frozenset[tuple[UUID | None, int]]:
    """Of which of these sessions nothing was delivered, by the log, and for which service."""
    logged = DeliveryVersion.objects.filter(entry__session_uid__in=uids, delivered_minutes=0).current()
    rows = logged.values_list("entry__session_uid", "entry__service_line__service")
    return frozenset(rows)
