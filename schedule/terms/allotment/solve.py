"""Sharing sessions out over the weeks of a term: each aim as well as it can be, in their order.

Every owed session gets a week if any has a day for it; no week mixes two periods of a service if that can be; no
week is fuller than its room; short weeks are made good; then the fewest minutes more on the road and in class; then
room for what will be missed; then an even pace. What is left open is said, never dropped.
"""

import datetime as dt

from schedule.terms.allotment.model import AllotmentLimits, AllotmentModel, build, first, least
from schedule.terms.allotment.question import Allotment, AllotmentAim, AllotmentQuestion, Allotted, Reached


def allot(question: AllotmentQuestion, limits: AllotmentLimits | None = None) -> Allotment:
    """Decide what each week holds. The same question and nodes give the same answer.

    Raises `AllotmentError` where sessions that stay contradict each other.
    """
    model, allowed = build(question), limits or AllotmentLimits()
    values = first(model)
    reached: list[Reached] = []
    for aim in AllotmentAim:
        solved = least(model, aim, allowed, values)
        values = solved.values
        reached.append(Reached(aim, solved.value, solved.bound))
    return Allotment(_allotted(model, values), _trips(model, values), tuple(reached))


def _allotted(model: AllotmentModel, values: tuple[float, ...]) -> tuple[Allotted, ...]:
    found: list[Allotted] = []
    for at, share in enumerate(model.question.shares):
        weeks = {one.monday: round(values[model.held[at, one.monday]]) for one in share.chances}
        found.append(Allotted(share, {monday: count for monday, count in weeks.items() if count}))
    return tuple(found)


def _trips(model: AllotmentModel, values: tuple[float, ...]) -> dict[tuple[dt.date, str], int]:
    counts = {where: round(values[column]) for where, column in model.trips.items()}
    return {where: count for where, count in counts.items() if count}
