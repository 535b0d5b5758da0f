"""What a planning run has found so far, kept with its row: one that is interrupted goes on from there.

Weeks that are done are kept whole. Of the week at hand the best plan is kept, as ids and times, and how many
seconds its search has had.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field
from time import monotonic
from typing import Any

from schedule.planner.problem import Problem, Session
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from schedule.weeks.versions.content import WeekContent, content_from_json, content_to_json

WRITE_AGAIN = 2.0
"""Seconds between two writes of the best plan: the search may find many a second."""
WRITE_SECONDS = 15.0
"""Seconds between two writes where nothing better was found."""

AGAIN = " Going on from what was found before the interruption."

type Write = Callable[[Mapping[str, Any]], bool]
"""Keeps JSON with the run's row; False where it can't be written just now."""


@dataclass(frozen=True, slots=True)
class DoneWeek:
    """A week of a run that is done: its content and figures by choice, or only a note why there are none."""

    content: WeekContent | None
    aims: Mapping[str, Any]
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class PlannedWeeks:
    """What a run has found: contents and figures of both choices by Monday, and sentences about the run itself."""

    contents: dict[dt.date, WeekContent] = field(default_factory=dict)
    aims: dict[dt.date, dict[str, Any]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    stopped: bool = False

    def take(self, monday: dt.date, week: DoneWeek) -> None:
        """Put a week that is done in its place."""
        if week.content is not None:
            self.contents[monday] = week.content
        if week.aims:
            self.aims[monday] = dict(week.aims)
        self.notes.extend(note for note in week.notes if note not in self.notes)


@dataclass(slots=True)
class RunKept:
    """What is kept, and when it was written last. ``clock`` gives seconds."""

    write: Write
    weeks: dict[str, Any] = field(default_factory=dict)
    at_hand: dict[str, Any] = field(default_factory=dict)
    clock: Callable[[], float] = monotonic
    _begun: float = 0.0
    _written: float = float("-inf")
    _is_new: bool = False

    def done(self, monday: dt.date) -> DoneWeek | None:
        """A week that was done before the run was interrupted."""
        kept = self.weeks.get(monday.isoformat())
        if kept is None:
            return None
        content = content_from_json(kept["content"]) if kept["content"] else None
        return DoneWeek(content, kept["aims"], tuple(kept["notes"]))

    def begin(self, monday: dt.date) -> float:
        """Turn to a week; seconds that its search has had already."""
        week = monday.isoformat()
        if self.at_hand.get("week") != week:
            self.at_hand = {"week": week, "seconds": 0.0, "sessions": []}
        self._begun = self.clock() - float(self.at_hand["seconds"])
        return float(self.at_hand["seconds"])

    def plan(self, problem: Problem) -> Itinerary | None:
        """The best plan of the week at hand before the interruption, as far as its days are still planned."""
        days = {day.id for day in problem.days}
        sessions = [Session(**one) for one in self.at_hand["sessions"]]
        if not any(one.day in days for one in sessions):
            return None
        return Itinerary(tuple(DayPlan(day.id, _items(sessions, day.id)) for day in problem.days))

    def better(self, plan: Itinerary) -> None:
        """Keep a better plan of the week at hand, soon."""
        self.at_hand["sessions"] = [asdict(one) for one in plan.sessions]
        self._is_new = True
        self.tick()

    def tick(self) -> None:
        """Write what is new, if it isn't too early for that, and now and then how long the search has taken."""
        if self.at_hand and self.clock() - self._written >= (WRITE_AGAIN if self._is_new else WRITE_SECONDS):
            self._save()

    def end(self, monday: dt.date, done: DoneWeek) -> None:
        """A week is done."""
        content = content_to_json(done.content) if done.content is not None else None
        self.weeks[monday.isoformat()] = {"content": content, "aims": dict(done.aims), "notes": list(done.notes)}
        self.at_hand = {}
        self._save()

    def _save(self) -> None:
        if self.at_hand:
            self.at_hand["seconds"] = round(self.clock() - self._begun, 1)
        self._is_new = not self.write({"weeks": self.weeks, "at_hand": self.at_hand})
        self._written = self.clock()


def _items(sessions: Iterable[Session], day: str) -> tuple[Item, ...]:
    """The sessions of a day as they stand in an itinerary."""
    return tuple(
        Item(ItemKind.SESSION, one.at, one.at + (one.minutes or 0), one.place, unit=one.unit, space=one.space)
        for one in sessions
        if one.day == day
    )
