"""Writes of goals: what a plan's text is read as, ends, phase changes, a district's rules.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for what is out of sight.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Max

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import record_change, record_remove
from accounts.services.undo import last_change_undo
from caseload.progress.measures import Measure, rubric_levels
from caseload.progress.models import GoalRules, PhaseChange, StudentGoal
from caseload.progress.reading import GoalReading, goal_readings
from caseload.progress.selectors.goals import GOAL_UNDO, last_goal_change
from caseload.progress.words import reading_words

CHANGE, RULES = "caseload.change", "ledger.change"
# What figures of a point stand for: changed under data, the data would say something else.
_OF_DATA = ("measure", "distance_unit", "levels")
DATA_STAND = (
    "Data were taken on this goal as it is measured now. End it and add a goal that is measured otherwise; the "
    "chart of this one stays."
)


def goal_save(*, actor: Person, row: StudentGoal, values: Mapping[str, Any]) -> StudentGoal:
    """Save a goal. A text that is new is read where no `measure` is given with it.

    `reading` is the one that was chosen where the text can mean two things, as `caseload.progress.words` writes
    it. Without a choice, and where nothing can be counted, the text is kept and the goal waits for an answer.
    """
    told = {name: value for name, value in values.items() if name != "reading"}
    if told.get("text", row.text if row.pk else None) is not None and not told.get("measure"):
        told = {**_as_read(row, told, str(values.get("reading") or "")), **_said(told)}
    if not row.pk and told.get("position") is None:
        told["position"] = _next_number(row, told)
    return record_change(
        actor=actor,
        row=row,
        values=told,
        action="goal_save",
        permission=CHANGE,
        rules=[_data_stand, _data_lie_within],
    )


def _next_number(row: StudentGoal, told: Mapping[str, Any]) -> int:
    """A new goal's place in the student's list: after all that are there."""
    student = told.get("student", row.student)
    last = StudentGoal.objects.filter(student=student).aggregate(last=Max("position"))["last"]
    return 1 + (last or 0)


def _said(told: Mapping[str, Any]) -> dict[str, Any]:
    """Everything but a measure that nobody gave."""
    return {name: value for name, value in told.items() if name != "measure" and value is not None}


def _as_read(row: StudentGoal, told: Mapping[str, Any], chosen: str) -> dict[str, Any]:
    """What the text is read as; nothing for the text that was read before and still stands."""
    text = str(told.get("text", row.text))
    if row.pk and row.measure and row.text == text and not chosen:
        return {}
    meant = _meant(text, chosen)
    return reading_values(meant[0]) if len(meant) == 1 else {}


def _meant(text: str, chosen: str) -> list[GoalReading]:
    """What a text can mean, or what was chosen of that."""
    found = list(goal_readings(text))
    if not chosen:
        return found
    meant = [one for one in found if reading_words(one) == chosen]
    if not meant:
        raise ValidationError({"text": "This is none of what the text can mean. Choose again."})
    return meant


def reading_values(reading: GoalReading) -> dict[str, Any]:
    """A reading as the fields of a goal; what it doesn't say is left out."""
    found = {name: value for name, value in asdict(reading).items() if value not in (None, "")}
    count = found.pop("level_count", None)
    if reading.measure is Measure.RUBRIC:
        found["levels"] = rubric_levels(count or max(int(reading.criterion), 2))
    return {**found, "measure": reading.measure.value, "wanted": reading.wanted.value}


def goal_read(*, actor: Person, row: StudentGoal, reading: str) -> StudentGoal:
    """Answer which of its readings a goal's text has."""
    return goal_save(actor=actor, row=row, values={"text": row.text, "reading": reading})


def _data_stand(row: StudentGoal, values: Mapping[str, Any]) -> dict[str, str]:
    """What a data point stands for can't change under it."""
    if not row.pk or not row.data.exists():
        return {}
    kept = StudentGoal.objects.values(*_OF_DATA).get(pk=row.pk)
    changed = next((name for name in _OF_DATA if name in values and values[name] != kept[name]), None)
    return {changed: DATA_STAND} if changed else {}


def _data_lie_within(row: StudentGoal, values: Mapping[str, Any]) -> dict[str, str]:
    """No counted data lie after a goal's last day."""
    del values
    late = row.data.counted().filter(day__gt=row.last_day).order_by("-day").first() if row.pk else None
    if late is None:
        return {}
    field = "ended_on" if row.ended_on is not None and row.ended_on < row.end else "end"
    return {field: f"{late} were taken. Choose that day or a later one, or take those data back first."}


def goal_take_back(*, actor: Person, row: StudentGoal, seen: int | None = None) -> None:
    """Undo what was done last to a goal as it is written. Refused where data would stand for something else.

    `seen`: the id of the change that the person saw. Raises as `accounts.services.undo.last_change_undo`.
    """
    last_change_undo(
        actor=actor, model=StudentGoal, last=last_goal_change(row), seen=seen, action=GOAL_UNDO, permission=CHANGE,
        rules=[_data_stand, _data_lie_within],
    )  # fmt: skip


def goal_delete(*, actor: Person, row: StudentGoal) -> None:
    """Delete a goal with its objectives and phase changes. Refused once data were taken: end it instead."""
    record_remove(actor=actor, row=row, action="goal_delete", permission=CHANGE)


def goal_end(*, actor: Person, row: StudentGoal, values: Mapping[str, Any]) -> StudentGoal:
    """Say from when no data are taken anymore (`ended_on`, the last day) and why (`ended_why`)."""
    if values.get("ended_on") is None:
        raise ValidationError({"ended_on": "Say which day was its last."})
    return record_change(
        actor=actor, row=row, values=values, action="goal_end", permission=CHANGE, rules=[_data_lie_within]
    )


def goal_reopen(*, actor: Person, row: StudentGoal) -> StudentGoal:
    """Take an end back."""
    values: dict[str, dt.date | str | None] = {"ended_on": None, "ended_why": ""}
    return record_change(actor=actor, row=row, values=values, action="goal_reopen", permission=CHANGE)


def phase_change_save(*, actor: Person, row: PhaseChange, values: Mapping[str, Any]) -> PhaseChange:
    """Say what is otherwise about the teaching from a day on."""
    return record_change(
        actor=actor, row=row, values=values, action="phase_change_save", permission=CHANGE, rules=[_within_goal]
    )


def _within_goal(row: PhaseChange, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    if row.goal.start <= row.day <= row.goal.last_day:
        return {}
    return {"day": "The goal doesn't hold on this day. Choose one of its days."}


def phase_change_delete(*, actor: Person, row: PhaseChange) -> None:
    """Take a phase change back."""
    record_remove(actor=actor, row=row, action="phase_change_delete", permission=CHANGE)


def goal_rules_save(*, actor: Person, row: GoalRules, values: Mapping[str, Any]) -> GoalRules:
    """Set the district's rules for goals from a day on."""
    return record_change(actor=actor, row=row, values=values, action="goal_rules_save", permission=RULES)


def goal_rules_delete(*, actor: Person, row: GoalRules) -> None:
    """Let the rules before hold on. Refused for the only ones that there are."""
    if not GoalRules.objects.changeable_by(actor).exclude(pk=row.pk).exists():
        raise ApplicationError("These are the only rules. Change them instead.", code="only_rules")
    record_remove(actor=actor, row=row, action="goal_rules_delete", permission=RULES)
