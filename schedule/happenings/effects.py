"""What something that happened does, as plain values: before it is saved, and to tell it afterwards.

Pure. Minutes are those of a student in a session, added up over students; miles as the drives count them.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from caseload.ledger.terms import Effect


@dataclass(frozen=True, slots=True)
class SessionEffect:
    """One session that comes to something else. ``what``: out, shorter, otherwise or back; ``why`` in a clause.

    ``minutes`` are lost to each of its ``students``, and below 0 given back.
    """

    date: dt.date
    start: dt.time
    end: dt.time
    teacher: str
    building: str
    label: str
    what: str
    why: str
    minutes: int
    students: int


@dataclass(frozen=True, slots=True)
class DriveEffect:
    """One teacher's drives of a date, before and after: schools in order, minutes at the wheel, miles."""

    date: dt.date
    teacher: str
    before: str
    after: str
    minutes_before: int
    minutes_after: int
    miles_before: Decimal
    miles_after: Decimal


@dataclass(frozen=True, slots=True)
class MinutesEffect:
    """Minutes that fall out and what the district's table does with them, in its words."""

    effect: str
    words: str
    minutes: int


@dataclass(frozen=True, slots=True)
class HappeningEffects:
    """All that something does, as far as whoever says it may see. ``told``: whom it concerns, by name.

    ``entries``: what will stand in the calendar, in words. ``more_days``: days whose drives aren't listed.
    ``names``: that the note holds a student's name, in sentences.
    """

    sessions: tuple[SessionEffect, ...] = ()
    drives: tuple[DriveEffect, ...] = ()
    minutes: tuple[MinutesEffect, ...] = ()
    told: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    more_days: int = 0
    names: tuple[str, ...] = ()

    @property
    def out(self) -> tuple[SessionEffect, ...]:
        """Sessions that fall out."""
        return tuple(one for one in self.sessions if one.what == "out")

    @property
    def others(self) -> tuple[SessionEffect, ...]:
        """Sessions that are held otherwise than planned."""
        return tuple(one for one in self.sessions if one.what != "out")

    @property
    def is_nothing(self) -> bool:
        """Whether no session and no drive changes."""
        return not self.sessions and not self.drives


EFFECT_WORDS = {
    Effect.OWED: "stay owed, and wait to be made up",
    Effect.NOT_OWED: "aren’t owed",  # noqa: RUF001 -- as pages write it
    Effect.TEAM: "are for the plan’s team to decide about",  # noqa: RUF001 -- as above
}


def minutes_by_effect(lost: Iterable[tuple[str, int]], effects: Mapping[str, Effect]) -> tuple[MinutesEffect, ...]:
    """Minutes by what the district's table does with their reason; a reason that it doesn't have is the team's."""
    found: Counter[Effect] = Counter()
    for reason, minutes in lost:
        found[effects.get(reason, Effect.TEAM)] += minutes
    return tuple(
        MinutesEffect(effect.value, words, found[effect]) for effect, words in EFFECT_WORDS.items() if found[effect]
    )
