"""A week of a run planned around other teachers' drafts, as far as that leaves nothing unplaced."""

import datetime as dt
from dataclasses import dataclass, replace

from accounts.models import Person
from schedule.planner.result import Result
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import week_input, week_rows
from schedule.weeks.planning.others.ahead import drafts_met
from schedule.weeks.planning.others.drafts import IN_A_DRAFT, around_drafts, being_planned
from schedule.weeks.versions.content import WeekContent

MOST_TOLD = 3


@dataclass(frozen=True, slots=True)
class WeekAround:
    """A week loaded around drafts, with what it was loaded against."""

    base: Base
    loaded: WeekInput


def week_around(teacher: Person, monday: dt.date, base: Base) -> WeekAround:
    """The problem of a week without the times at which others' drafts stand. Raises as ``load_week`` does."""
    rows = week_rows(teacher, monday, base)
    students = {line.plan.student_id for line in rows.lines}
    around = around_drafts(teacher, monday, students, [one.pk for one in rows.buildings])
    base = replace(base, around=replace(around, despite=base.around.despite))
    return WeekAround(base, week_input(rows, base))


def lines_despite(week: WeekAround, result: Result) -> frozenset[int]:
    """The lines with sessions left that a draft is in the way of: those aren't planned around it then."""
    if result.plan is None:
        return frozenset()
    services = {one.id: one for one in week.loaded.problem.services}
    left = (one.service for one in result.unplaced)
    barred = {one for one in left if any(bar.reason_code == IN_A_DRAFT for bar in services[one].barred)}
    lines = {line for service in barred for line in week.loaded.info(service).lines}
    return frozenset(lines) - week.base.around.despite


def lines_apart(week: WeekAround, result: Result) -> frozenset[int]:
    """The lines whose joint sessions leave no week, or have no place in it: they are planned by themselves then."""
    infos = week.loaded.units.infos
    if result.plan is None:
        kept = [one for one in infos.values() if one.joint.kept or one.joint.only]
    else:
        kept = [infos[one.service] for one in result.unplaced if infos[one.service].joint.only]
    return frozenset(line for one in kept for line in one.lines)


def drafts_notes(teacher: Person, monday: dt.date, content: WeekContent) -> list[str]:
    """What a run says of others' drafts: what it meets, and whose week is being planned. Marked codes only."""
    met = drafts_met(None, teacher, [content])
    notes = [f"Whoever publishes first has this time: {one.words}" for one in met[:MOST_TOLD]]
    if len(met) > MOST_TOLD:
        notes.append(f"{len(met) - MOST_TOLD} more sessions meet drafts of others: the draft's page lists them.")
    return [
        *notes,
        *(f"{name}'s week is being planned at this moment, too." for name in being_planned(teacher, monday)),
    ]
