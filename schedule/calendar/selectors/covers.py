"""Who stands in for a teacher: on which dates, for which sessions, and by name.

Whoever is no longer active stands in for nobody. Of ids and names of staff alone: a building's feed asks, too.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person, Substitution
from accounts.models.sql_once import SqlOnce
from schedule.calendar.words import listed

SOME = "{name} (for some sessions)"


@dataclass(frozen=True, slots=True)
class Cover:
    """Somebody stands in for a teacher between two dates: for the sessions with these uids, or for all."""

    teacher: int
    substitute: int
    name: str
    first: dt.date
    last: dt.date
    sessions: frozenset[str] = frozenset()

    @property
    def called(self) -> str:
        """By name, and whether it is for some sessions only."""
        return SOME.format(name=self.name) if self.sessions else self.name

    def covers(self, date: dt.date, uid: UUID | str) -> bool:
        """Whether a session of a date is theirs."""
        return self.first <= date <= self.last and (not self.sessions or str(uid) in self.sessions)


@dataclass(frozen=True, slots=True)
class Covers:
    """All covers of some teachers and dates."""

    every: tuple[Cover, ...] = ()

    def whole_day(self, date: dt.date, teacher: int | None = None) -> bool:
        """Whether somebody stands in for all of a date."""
        return any(not one.sessions for one in self.on(date, teacher))

    def on(self, date: dt.date, teacher: int | None = None) -> list[Cover]:
        """Those of a date."""
        return [one for one in self.every if one.first <= date <= one.last and teacher in {None, one.teacher}]

    def of_session(self, date: dt.date, uid: UUID | str, teacher: int | None = None) -> list[Cover]:
        """Those of one session."""
        return [one for one in self.on(date, teacher) if one.covers(date, uid)]

    def called_on(self, date: dt.date) -> str:
        """Who stands in on a date, and for whom it isn't the whole day; empty where nobody does."""
        return _listed(one.called for one in self.on(date))

    def who_comes(self, date: dt.date, uid: UUID | str, teacher: int | None = None) -> str:
        """Who stands in at a session, by name; empty where nobody does."""
        return _listed(one.name for one in self.of_session(date, uid, teacher))

    def by(self, substitute: Person) -> "Covers":
        """Those of one substitute."""
        return Covers(tuple(one for one in self.every if one.substitute == substitute.pk))


def covers_between(teachers: Collection[int], first: dt.date, last: dt.date) -> Covers:
    """The covers of some teachers that hold on any date between two. Two queries at most."""
    return _covers(BETWEEN(teachers, first, last))


BETWEEN = SqlOnce(
    lambda teachers, first, last: (
        Substitution.objects.filter(
            teacher__in=teachers, first_date__lte=last, last_date__gte=first, substitute__is_active=True
        )
        .select_related("substitute")
        .prefetch_related("sessions")
        .order_by("pk")
    )
)


def _covers(rows: Iterable[Substitution]) -> Covers:
    return Covers(tuple(
        Cover(
            one.teacher_id,
            one.substitute_id,
            one.substitute.called,
            one.first_date,
            one.last_date,
            frozenset(str(named.session_uid) for named in one.sessions.all()),
        )
        for one in rows
    ))  # fmt: skip


def covers_on(teacher: Person, dates: Iterable[dt.date]) -> dict[dt.date, str]:
    """Of each date who stands in, and for whom it isn't the whole day; empty where nobody does."""
    wanted = sorted(dates)
    if not wanted:
        return {}
    covers = covers_between([teacher.pk], wanted[0], wanted[-1])
    return {date: covers.called_on(date) for date in wanted}


def _listed(names: Iterable[str]) -> str:
    """Names in a line, each once."""
    once = list(dict.fromkeys(names))
    return listed(once) if once else ""
