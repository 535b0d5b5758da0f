"""What a search tells of a week beside the plan itself: reasons, whom to ask, what either choice gives."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from schedule.planner.asking.clash import Clash, clashes_of
from schedule.planner.result import Result, Unplaced
from schedule.weeks.aims import AimedWeek
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.outcome import Told
from schedule.weeks.planning.sources import ask_office
from schedule.weeks.search_words import result_words

CLASHES = 4
"""Seconds a week in which the rules that clash are sought, where something isn't placed."""


def clashes_in(loaded: WeekInput, result: Result, stop_asked: Callable[[], bool]) -> dict[str, Clash]:
    """Which rules clash for each service with sessions left, as far as the time goes."""
    if result.plan is None:
        return {}
    lacking = [one.service for one in result.unplaced]
    return clashes_of(loaded.problem, result.plan, lacking, time_limit=CLASHES, stop=stop_asked)


def told_of(loaded: WeekInput, result: Result, clashes: Mapping[str, Clash], aimed: AimedWeek) -> Told:
    """Stages, reasons and whom to ask; the notes begin with what either choice gives."""
    told = left_told(loaded, result.unplaced, clashes)
    figures = [result_words(result.stages, result.figures)] if result.figures else []
    return replace(told, stages=result.stages, notes=(*aimed.sentences, *figures))


def left_told(loaded: WeekInput, left: Iterable[Unplaced], clashes: Mapping[str, Clash]) -> Told:
    """Why each service has sessions left, and whom to ask."""
    offices = {f"the office of {one.name}": ask_office(one) for one in loaded.buildings.values()}
    rows = list(left)
    asks = {
        one.service: "; ".join(dict.fromkeys(offices.get(ask, ask) for ask in one.ask)) for one in rows if one.ask
    }
    return Told(reasons={one.service: _reasons(one, clashes.get(one.service)) for one in rows}, asks=asks)


def _reasons(one: Unplaced, clash: Clash | None) -> tuple[str, ...]:
    """What is in the way, the rules that clash, and the one thing to ask for that was tried."""
    request = (one.request.text,) if one.request is not None else ()
    return (one.sentence, *((clash.sentence,) if clash is not None else ()), *request)
