"""What a planning run tells of itself: words for whoever waits, the search's own line for terminal and log."""

import datetime as dt
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from accounts.dates import date_words
from schedule.planner.problem import Goal
from schedule.planner.result import GoalFigures
from schedule.weeks.search_words import search_words

logger = logging.getLogger(__name__)

STAGES = {
    "first plan": "First plan",
    "search": "Search for better weeks",
    "unplaced": "Owed minutes",
    "wishes": "Contract wishes",
    "driving": "Driving",
    "change": "Change against the week before",
    "sameness": "Usual times",
    "explain": "Reasons for what is left",
}
"""The planner's stages in words."""

NOT_YET = 0.99
"""The most of a week that is shown as done while it is searched: a busy machine takes longer for its work."""

type Report = Callable[[Mapping[str, Any]], None]


@dataclass(slots=True)
class RunProgress:
    """Turns news of the search into what the page shows."""

    report: Report
    mondays: tuple[dt.date, ...]
    began: float = field(default_factory=monotonic)
    number: int = 0
    time_limit: int = 20
    placing_limit: int = 0
    """Seconds that placing everything may take before the others begin; 0 where it has no more than those."""
    placed_after: float = 0.0
    """Seconds into the week at hand after which everything was placed."""
    tick: Callable[[], None] = lambda: None
    """Called with all news: what was found meanwhile is kept."""
    bounds: dict[Goal, int] = field(default_factory=dict)
    """What no week can go below, by goal, as far as the search knows; of the week at hand."""

    def begin(self, number: int) -> None:
        """Go on to a week."""
        self.number = number
        self.placed_after = 0.0
        self.bounds.clear()

    def say(
        self,
        message: str,
        seconds: float = 0.0,
        stage: str = "",
        figures: GoalFigures | None = None,
        line: str = "",
    ) -> None:
        """One sentence and the figures, codes and numbers only; ``seconds`` into the week at hand.

        ``line`` is the search's own way to say it.
        """
        share = self._share(seconds, figures)
        self.report(
            {
                "week": self.mondays[self.number].isoformat(),
                "week_number": self.number + 1,
                "weeks": len(self.mondays),
                "stage": STAGES.get(stage, stage),
                "message": message,
                "technical": line or message,
                "figures": figures_json(figures) if figures else [],
                "elapsed": round(monotonic() - self.began, 1),
                "percent": int(100 * (self.number + share) / len(self.mondays)),
            }
        )

    def _share(self, seconds: float, figures: GoalFigures | None) -> float:
        """How much of the week's time is over."""
        if self.placing_limit and figures is not None:
            if figures.unplaced > 0:
                return min(NOT_YET, seconds / self.placing_limit)
            self.placed_after = self.placed_after or seconds
        return min(NOT_YET, seconds / (self.placed_after + self.time_limit))

    def bounded(self, goal: Goal, bound: int) -> None:
        """No week can go below this in a goal."""
        self.bounds[goal] = bound

    def searching(self, seconds: float, stage: str, message: str, figures: GoalFigures | None) -> None:
        """What the planner says of itself while it searches."""
        monday = self.mondays[self.number]
        week = f"Week of {date_words(monday)}: " if len(self.mondays) > 1 else ""
        bound = self.bounds.get(Goal(stage)) if stage in set(Goal) else None
        line = f"Week of {monday}, {stage}: {message}"
        logger.debug("%s", line)
        self.say(f"{week}{search_words(stage, figures, bound)}", seconds, stage, figures, line)
        self.tick()


def figures_json(figures: GoalFigures) -> list[dict[str, Any]]:
    """Figures by goal as they are kept with weeks, nothing yet proved."""
    return [{"goal": goal.value, "value": figures.of(goal), "bound": None, "status": ""} for goal in Goal]
