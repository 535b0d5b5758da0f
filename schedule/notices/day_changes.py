"""What differs between a day as somebody knows it and the day as it is.

Pure. Nobody says what happened: a closing, an absence, a moved session and a closing taken back all show as the
difference of two days, so that none can be forgotten and none is told twice. Times are minutes after midnight.
No student's name or number gets in here: what is told may go to other people's machines.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class KnownSession:
    """A session as somebody knows it. `off`: why it isn't held; `otherwise`: what is different in how it is.

    `beside`: other teachers of a joint session on whose day something happened, in words.
    """

    uid: str
    start: int
    end: int
    building: int
    school: str
    space: str
    class_id: int | None
    class_name: str
    off: str = ""
    otherwise: str = ""
    students_from: int | None = None
    beside: str = ""

    @property
    def schools(self) -> frozenset[int]:
        """Where it is held, and where its students are at school."""
        return frozenset(one for one in (self.building, self.students_from) if one is not None)


@dataclass(frozen=True, slots=True)
class KnownDay:
    """One teacher's date. `cover`: who stands in."""

    sessions: tuple[KnownSession, ...] = ()
    cover: str = ""

    def of_schools(self, buildings: Iterable[int]) -> "KnownDay":
        """What an office knows of it: sessions at its own school, and of its students elsewhere.

        Who gives a student's sessions together is nothing that an office or a class is told.
        """
        wanted = set(buildings)
        return KnownDay(tuple(replace(one, beside="") for one in self.sessions if one.schools & wanted), self.cover)

    def of_sessions(self, uids: Iterable[str]) -> "KnownDay":
        """What who stands in for some sessions knows of it."""
        wanted = set(uids)
        return KnownDay(tuple(one for one in self.sessions if one.uid in wanted), self.cover)

    def of_classes(self, classes: Iterable[int]) -> "KnownDay":
        """What a class's teacher knows of it."""
        wanted = set(classes)
        return KnownDay(
            tuple(replace(one, beside="") for one in self.sessions if one.class_id in wanted), self.cover
        )


class How(StrEnum):
    """In what a session differs."""

    NEW = "new"
    GONE = "gone"
    OFF = "off"
    ON_AGAIN = "on again"
    MOVED = "moved"
    ELSEWHERE = "elsewhere"
    OTHERWISE = "otherwise"
    AS_PLANNED = "as planned"
    BESIDE = "beside"
    BESIDE_AGAIN = "beside again"


@dataclass(frozen=True, slots=True)
class DayChange:
    """One session's difference; `was` is as it was known, `now` as it is, the same where only words differ."""

    how: How
    was: KnownSession
    now: KnownSession


def day_changes(was: KnownDay, now: KnownDay) -> tuple[DayChange, ...]:
    """Every difference of the sessions, in the order of the day. The cover is compared by `cover_change`."""
    before, after = {one.uid: one for one in was.sessions}, {one.uid: one for one in now.sessions}
    both = [(one, after[uid]) for uid, one in before.items() if uid in after]
    found = [DayChange(how, old, new) for old, new in both for how in _how(old, new)]
    found += [DayChange(How.NEW, one, one) for one in _held_only(now, before)]
    found += [DayChange(How.GONE, one, one) for one in _held_only(was, after)]
    return tuple(sorted(found, key=lambda one: (one.now.start, one.now.end, one.now.uid)))


def _held_only(day: KnownDay, other: Mapping[str, KnownSession]) -> list[KnownSession]:
    """Sessions that the other day doesn't have. One that isn't held comes and goes without anybody's notice."""
    return [one for one in day.sessions if one.uid not in other and not one.off]


def _how(was: KnownSession, now: KnownSession) -> list[How]:
    """In what one session differs. What isn't held has no time and no place that would matter."""
    if now.off:
        return [] if was.off else [How.OFF]
    found = [How.ON_AGAIN] if was.off else []
    if (was.start, was.end) != (now.start, now.end):
        found.append(How.MOVED)
    if (was.building, was.space) != (now.building, now.space):
        found.append(How.ELSEWHERE)
    if was.otherwise != now.otherwise:
        found.append(How.OTHERWISE if now.otherwise else How.AS_PLANNED)
    if was.beside != now.beside:
        found.append(How.BESIDE if now.beside else How.BESIDE_AGAIN)
    return found


def cover_change(was: KnownDay, now: KnownDay) -> tuple[str, str] | None:
    """Who stood in and who stands in, where that differs."""
    return (was.cover, now.cover) if was.cover != now.cover else None


def day_to_json(day: KnownDay) -> dict[str, Any]:
    """As it is kept."""
    return asdict(day)


def day_from_json(kept: Mapping[str, Any]) -> KnownDay:
    """From what `day_to_json` gave."""
    sessions = tuple(KnownSession(**one) for one in kept.get("sessions", ()))
    return KnownDay(sessions, kept.get("cover", ""))
