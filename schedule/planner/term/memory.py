"""What a run of the term planner has found so far: one that is interrupted goes on from there."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from schedule.planner.jsonform import Json, dataclass_to_json, from_json
from schedule.planner.result import Result
from schedule.planner.term.term import LaterTimetable, StandingTimetable


@dataclass(frozen=True, slots=True)
class TermFound:
    """The timetables, once settled; what each question about a week was answered; seconds of search so far.

    ``candidates``: the timetables of which the best is to be settled; ``patterns``, where days rotate, those whose
    whole weeks are compared before.
    """

    standing: StandingTimetable | None = None
    answers: dict[str, Result] = field(default_factory=dict)
    seconds: float = 0.0
    later: tuple[LaterTimetable, ...] = ()
    candidates: tuple[StandingTimetable, ...] = ()
    patterns: tuple[StandingTimetable, ...] = ()


@dataclass(slots=True)
class TermMemory:
    """What is found while a term is planned. ``told`` is called with each news, on the planner's own thread."""

    standing: StandingTimetable | None = None
    answers: dict[str, Result] = field(default_factory=dict)
    had: float = 0.0
    """Seconds of search before an interruption."""
    told: Callable[[], None] = lambda: None
    later: tuple[LaterTimetable, ...] = ()
    candidates: tuple[StandingTimetable, ...] = ()
    patterns: tuple[StandingTimetable, ...] = ()

    def compare(self, candidates: Iterable[StandingTimetable]) -> None:
        """Timetables are found, of which the best is looked for."""
        self.candidates = tuple(candidates)
        self.told()

    def try_patterns(self, patterns: Iterable[StandingTimetable]) -> None:
        """Where the rotating sessions may stand is found, with what stands beside them."""
        self.patterns = tuple(patterns)
        self.told()

    def settle(self, standing: StandingTimetable, later: tuple[LaterTimetable, ...] = ()) -> None:
        """The timetables are decided; the weeks come next."""
        self.standing, self.later = standing, later
        self.told()

    def answer(self, question: str, result: Result) -> None:
        """A question about a week is answered."""
        self.answers[question] = result
        self.told()

    def as_json(self, seconds: float) -> Json:
        """Everything as JSON, after so many seconds of search."""
        found = TermFound(
            self.standing, self.answers, round(seconds, 1), self.later, self.candidates, self.patterns
        )
        return dataclass_to_json(found)


def memory_from_json(data: object, told: Callable[[], None] = lambda: None) -> TermMemory:
    """What ``as_json`` gave. Raises ``ProblemError`` where it reads otherwise."""
    found = from_json(TermFound, data)
    return TermMemory(
        found.standing, found.answers, found.seconds, told, found.later, found.candidates, found.patterns
    )
