"""What pages and the API are told of publishing a term before it is published: plain values, no rows."""

import datetime as dt
from dataclasses import dataclass

from schedule.weeks.question_data import TellView


@dataclass(frozen=True, slots=True)
class WeekReplacedView:
    """A week in force and what a term's draft would change in it: sessions that move, come, go and stay."""

    monday: dt.date
    week_id: int
    moved: int
    added: int
    removed: int
    same: int


@dataclass(frozen=True, slots=True)
class TermAheadView:
    """What publishing a term's drafts would change, and what stands against it as far as that is known now.

    ``empty``: weeks without a plan in force. ``two_places``: a sentence for each time at which another teacher's
    week in force has a student, a class or a space, ``drafts_met`` for those that others' drafts have. ``broken``:
    the Mondays of drafts that break rules. Weeks that are in ``two_places`` or ``broken`` would stay drafts.
    ``first_day`` and ``last_day``: of the timetable in force that this one takes the place of, if there is one.
    """

    drafts: int = 0
    empty: int = 0
    replaced: tuple[WeekReplacedView, ...] = ()
    tell: tuple[TellView, ...] = ()
    two_places: tuple[str, ...] = ()
    drafts_met: tuple[str, ...] = ()
    broken: tuple[dt.date, ...] = ()
    first_day: dt.date | None = None
    last_day: dt.date | None = None

    @property
    def alike(self) -> int:
        """Weeks in force in which nothing would change."""
        return sum(not (one.moved or one.added or one.removed) for one in self.replaced)

    @property
    def differing(self) -> tuple[WeekReplacedView, ...]:
        """Weeks in force in which something would change."""
        return tuple(one for one in self.replaced if one.moved or one.added or one.removed)
