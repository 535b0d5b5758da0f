"""Rules that a floor above adds to what a caseload service saves.

Whether a service fits into a period of the bells can only be said by the schedule floor, which this one must not
import; the schedule floor registers its rules here when the application starts (schedule.apps). What is written
about a student's care is kept in a room above this one, which registers who knows it (caseload.apps).
"""

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.template.loader import render_to_string

from accounts.models import District, Person
from accounts.validation import Rule
from caseload.plans.models import ServiceLine, Student, StudentHold
from travel.places.models import Building

type Foreseer = Callable[[Person, Student, Callable[[], object]], list[str]]
"""Says what an act would change of a student's minutes, in sentences, and leaves nothing of it."""

line_rules: list[Rule[ServiceLine]] = []
hold_rules: list[Rule[StudentHold]] = []
period_sources: list[Callable[[Building], list[str]]] = []
care_sources: list[Callable[[Person, Collection[int]], Mapping[int, Any]]] = []
"""Says what is written about students' care, by student, of those whom the person may see."""
panels: list[Callable[[HttpRequest, Student], "Panel"]] = []
"""Parts of a student's page that rooms above this one add."""
movers: list[Callable[[ServiceLine, ServiceLine], None]] = []
foreseers: list[Foreseer] = []
marking_period_sources: list[Callable[[District, dt.date | None], int | None]] = []


def rules_add(
    *, lines: Rule[ServiceLine], holds: Rule[StudentHold], periods: Callable[[Building], list[str]]
) -> None:
    """Register one rule for each kind of row, and who knows a building's periods; twice has no effect."""
    if periods not in period_sources:
        period_sources.append(periods)
    if lines not in line_rules:
        line_rules.append(lines)
    if holds not in hold_rules:
        hold_rules.append(holds)


def marking_periods_add(source: Callable[[District, dt.date | None], int | None]) -> None:
    """Register who knows how many marking periods a district's school year has; twice has no effect."""
    if source not in marking_period_sources:
        marking_period_sources.append(source)


def marking_periods_of(district: District | None, day: dt.date | None) -> int | None:
    """How many marking periods the school year of a day has, the latest year's without a day; None: not known."""
    if district is None:
        return None
    return next((found for source in marking_period_sources if (found := source(district, day))), None)


def line_is_held_against_the_floors_above(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """All registered rules for a service line."""
    return {name: text for rule in line_rules for name, text in rule(row, values).items()}


def hold_is_held_against_the_floors_above(row: StudentHold, values: Mapping[str, Any]) -> dict[str, str]:
    """All registered rules for a time when a student can't be taken."""
    return {name: text for rule in hold_rules for name, text in rule(row, values).items()}


def period_names(building: Building) -> list[str]:
    """Names of the periods of a building's bells, in the order of the day."""
    return [name for source in period_sources for name in source(building)]


def changes_add(*, moves: Callable[[ServiceLine, ServiceLine], None], foresees: Foreseer) -> None:
    """Register who moves what stands under a line to another one, and who knows students' minutes."""
    if moves not in movers:
        movers.append(moves)
    if foresees not in foreseers:
        foreseers.append(foresees)


def references_move(line: ServiceLine, other: ServiceLine) -> None:
    """Let what was planned and logged under a line stand under another one; call it inside a transaction."""
    for move in movers:
        move(line, other)


def effects_foreseen(actor: Person, student: Student, act: Callable[[], object]) -> list[str]:
    """What an act would change of the minutes owed, delivered and open, in sentences; nothing is saved."""
    return [text for foresee in foreseers for text in foresee(actor, student, act)]


def care_add(source: Callable[[Person, Collection[int]], Mapping[int, Any]]) -> None:
    """Register who knows what is written about students' care; twice has no effect."""
    if source not in care_sources:
        care_sources.append(source)


def care_among(viewer: Person, students: Collection[int]) -> dict[int, Any]:
    """What is written about students' care (`caseload.care.written.Care`), of those whom the viewer may see."""
    return {pk: care for source in care_sources for pk, care in source(viewer, students).items()}


@dataclass(frozen=True, slots=True)
class Panel:
    """A part of a student's page: a template, and the values that it takes."""

    template: str
    values: Mapping[str, Any]


def panel_add(panel: Callable[[HttpRequest, Student], Panel]) -> None:
    """Register a part of the student's page; twice has no effect."""
    if panel not in panels:
        panels.append(panel)


def panels_of(request: HttpRequest, student: Student) -> list[str]:
    """The parts of a student's page that rooms above add, drawn for whoever looks."""
    drawn = [panel(request, student) for panel in panels]
    return [render_to_string(one.template, dict(one.values), request) for one in drawn]
