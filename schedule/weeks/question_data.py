"""What pages and the API are told about favors and about the price of staying: plain values.

Built by ``schedule.weeks.selectors.questions``. ``state``: waiting, running, done, failed or stopped. ``stale``:
the week was edited after the question was asked.
"""

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TellView:
    """Somebody whom a change concerns: a building's office, with the classes whose time it is."""

    building_code: str
    who: str
    sessions: int
    classes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FavorView:
    """One thing to ask for, and what it would give. Minutes a week; negative ``drive_saved`` costs driving."""

    text: str
    ask: str
    building_code: str
    minutes_placed: int
    wishes_met: int
    drive_saved: int
    everything_fits: bool
    proved: bool
    best_of_building: bool
    building_name: str = ""


@dataclass(frozen=True, slots=True)
class QuestionView:
    """How far a question is. ``found``: answers so far, while it is being worked out."""

    question_id: int
    kind: str
    state: str
    is_over: bool
    stop_asked: bool
    percent: int
    error: str
    stale: bool
    asked_at: dt.datetime
    found: int = 0


@dataclass(frozen=True, slots=True)
class ReplanningView:
    """What the best week without any favor has before the week that was asked about, in minutes."""

    minutes_placed: int
    wishes_met: int
    drive_saved: int

    @property
    def helps(self) -> bool:
        """Whether it is better at all."""
        return (self.minutes_placed, self.wishes_met, self.drive_saved) > (0, 0, 0)


@dataclass(frozen=True, slots=True)
class FavorsView:
    """Favors, the best first.

    Of those ``possible``, ``tried`` were granted one by one and the week planned again; ``dismissed`` were granted
    together with others and gave nothing, proved; the rest was not decided in time. ``base_proved``: there is no
    better week without a favor; ``base_near``: none that drives less by more than 2 %, else nothing is priced.
    ``replanning``: what planning again gives by itself against the week asked about.
    """

    question: QuestionView
    favors: tuple[FavorView, ...]
    possible: int
    tried: int
    stopped: bool
    dismissed: int = 0
    base_proved: bool = False
    base_near: bool = True
    replanning: ReplanningView | None = None

    @property
    def undecided(self) -> int:
        """Favors of which it isn't known whether they help."""
        return self.possible - self.tried - self.dismissed


@dataclass(frozen=True, slots=True)
class PointView:
    """One week between staying and driving least. ``number`` is what saving it as a draft asks for."""

    number: int
    moved: int
    driving: int
    proved: bool
    sentences: tuple[str, ...]
    tell: tuple[TellView, ...]


@dataclass(frozen=True, slots=True)
class CurveView:
    """Driving against sessions moved, from fewest moved to least driving.

    ``complete``: no week lies between two points, proved. ``message`` says why there are no points.
    """

    question: QuestionView
    points: tuple[PointView, ...]
    complete: bool
    price_of_staying: int
    message: str
