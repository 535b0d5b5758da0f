"""What pages and the API are told about favours and about the price of staying: plain values, codes only.

Built by ``schedule.selectors.week_questions``. ``state``: waiting, running, done, failed or stopped. ``stale``: the
week was edited after the question was asked.
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
class FavourView:
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


@dataclass(frozen=True, slots=True)
class QuestionView:
    """How far a question is."""

    question_id: int
    kind: str
    state: str
    is_over: bool
    stop_asked: bool
    percent: int
    error: str
    stale: bool
    asked_at: dt.datetime


@dataclass(frozen=True, slots=True)
class FavoursView:
    """Favours, the best first: of those ``possible``, ``tried`` were granted and the week planned again."""

    question: QuestionView
    favours: tuple[FavourView, ...]
    possible: int
    tried: int
    stopped: bool


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
