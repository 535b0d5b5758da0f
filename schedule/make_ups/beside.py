"""When another teacher of a joint session is in a building with nothing to do, by a planned day. Pure."""

from collections.abc import Collection, Iterable, Sequence

from schedule.calendar.spans import Span, overlap
from schedule.weeks.day_truth import Part, Standing

PREPARATION = "preparation"


def is_there(parts: Iterable[Part], building: int, span: Span) -> bool:
    """Whether nothing but preparation is planned in a span, and the teacher is in a building just before and after.

    Before the day's first place and after its last nobody knows where the teacher is.
    """
    day = list(parts)
    if any(one.kind != PREPARATION and overlap((one.start, one.end), span) for one in day):
        return False
    return _places_about([one for one in day if one.building is not None], span) == {building}


def _places_about(placed: Sequence[Part], span: Span) -> set[int | None]:
    """Where the teacher is before, in and after a span; with None where one of the ends isn't known."""
    before = [one for one in placed if one.start <= span[0]]
    after = [one for one in placed if span[1] <= one.end]
    within = {one.building for one in placed if span[0] <= one.start < span[1]}
    last = max(before, key=lambda one: one.start, default=None)
    following = min(after, key=lambda one: one.end, default=None)
    if last is None or following is None:
        return {None}
    return {last.building, following.origin or following.building, *within}


def is_held(parts: Iterable[Part], building: int, span: Span, sessions: Collection[str]) -> bool:
    """Whether one of these sessions, by key, stands exactly there: the other teacher has booked it already."""
    return any(one.key in sessions and (one.building, (one.start, one.end)) == (building, span) for one in parts)


def is_in_the_way(standing: Standing, building: int, span: Span) -> bool:
    """Whether the teacher is away or has left by then, or the building is closed."""
    away = any(overlap(one, span) for one in standing.away)
    return standing.teacher_left or away or building in standing.closings
