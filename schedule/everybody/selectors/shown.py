"""How far a plan of everybody's week is, teacher by teacher, for pages and the API."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from jobs.dispatch import job_is_unsent
from jobs.models import Job
from schedule.everybody.models import EverybodyPlan, EverybodyTurn
from schedule.everybody.selectors.sharing import few_words
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.detail import goal_figures


class TurnState(StrEnum):
    """Where a teacher's turn stands."""

    WAITS = "waits"
    PLANNING = "planning"
    PLANNED = "planned"
    NO_WEEK = "no_week"
    LEFT_OUT = "left_out"


LABELS = {
    TurnState.WAITS: "Waits",
    TurnState.PLANNING: "Being planned",
    TurnState.PLANNED: "Planned",
    TurnState.NO_WEEK: "No week",
    TurnState.LEFT_OUT: "Left out",
}
NO_WORKER = "For a free worker."
STOPPED_BEFORE = "Stopped before this turn began."
STOPPED_EARLY = "Stopped before a week was found."


@dataclass(frozen=True, slots=True)
class EverybodyTurnView:
    """A teacher's turn. ``message``: what it waits for, how far it is, or why there is no week.

    ``week_id``: the draft, or what has become of it (``week_label``); minutes at the wheel and not placed in it.
    """

    teacher_id: int
    teacher: str
    place: int
    state: str
    state_label: str
    message: str = ""
    run_id: int | None = None
    week_id: int | None = None
    week_status: str = ""
    week_label: str = ""
    drive_minutes: int = 0
    unplaced_minutes: int = 0
    is_edited: bool = False


@dataclass(frozen=True, slots=True)
class EverybodyView:
    """A plan of everybody's week. ``ended``: turns that came to their end, of ``teachers``; ``message`` says it.

    ``drafts``: weeks that are drafts yet, ``edited`` of them changed by hand since; ``in_force``: published since.
    """

    plan_id: int
    monday: dt.date
    aim: str
    aim_label: str
    time_limit: int
    asked_by: str
    asked_at: dt.datetime
    is_over: bool
    stop_asked: bool
    message: str
    teachers: int
    ended: int
    percent: int
    planned: int
    without_week: int
    left_out: int
    drafts: int
    edited: int
    in_force: int
    drive_minutes: int
    unplaced_minutes: int
    taken_back_at: dt.datetime | None
    turns: tuple[EverybodyTurnView, ...]


def everybody_get(viewer: Person, pk: int) -> EverybodyPlan:
    """A plan that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    rows = EverybodyPlan.objects.visible_to(viewer).select_related("district", "asked_by")
    row = rows.filter(pk=pk).first()
    if row is None:
        raise ApplicationError("There is no such plan.", code="not_found", status=404)
    return row


def everybody_view(viewer: Person, plan: EverybodyPlan) -> EverybodyView:
    """What a page shows of a plan, turns in their order."""
    rows = list(plan.turns.select_related("teacher", "run__job").order_by("place"))
    runs = [turn.run_id for turn in rows if turn.run_id is not None]
    weeks = {week.plan_run_id: week for week in WeekPlan.objects.filter(plan_run__in=runs, district=plan.district)}
    seen = _Seen(plan, {turn.teacher_id: turn for turn in rows}, weeks, student_names(viewer))
    turns = tuple(seen.turn(one) for one in rows)
    states = Counter(one.state for one in turns)
    ended = len(turns) - states[TurnState.WAITS] - states[TurnState.PLANNING]
    return EverybodyView(
        plan_id=plan.pk,
        monday=plan.monday,
        aim=plan.aim,
        aim_label=plan.get_aim_display(),
        time_limit=plan.time_limit,
        asked_by=str(plan.asked_by),
        asked_at=plan.asked_at,
        is_over=plan.ended_at is not None,
        stop_asked=plan.stopped_at is not None,
        message=f"{ended} of {len(turns)} weeks are done.",
        teachers=len(turns),
        ended=ended,
        percent=100 * ended // max(1, len(turns)),
        without_week=states[TurnState.NO_WEEK],
        left_out=states[TurnState.LEFT_OUT],
        taken_back_at=plan.taken_back_at,
        turns=turns,
        **_sums([one for one in turns if one.week_id is not None]),
    )


def _sums(planned: Sequence[EverybodyTurnView]) -> dict[str, int]:
    """Of the turns that have a week."""
    drafts = [one for one in planned if one.week_status == WeekPlan.Status.DRAFT]
    return {
        "planned": len(planned),
        "drafts": len(drafts),
        "edited": sum(one.is_edited for one in drafts),
        "in_force": sum(one.week_status == WeekPlan.Status.PUBLISHED for one in planned),
        "drive_minutes": sum(one.drive_minutes for one in planned),
        "unplaced_minutes": sum(one.unplaced_minutes for one in planned),
    }


@dataclass(frozen=True, slots=True)
class _Seen:
    """A plan's rows as its viewer may see them; ``weeks`` by run."""

    plan: EverybodyPlan
    turns: Mapping[int, EverybodyTurn]
    weeks: Mapping[int | None, WeekPlan]
    names: StudentNames

    def turn(self, one: EverybodyTurn) -> EverybodyTurnView:
        state, message = self._state(one)
        week = self.weeks.get(one.run_id) if one.run_id is not None else None
        values = {goal.goal: goal.value for goal in goal_figures(week.figures)} if week else {}
        figures = week.figures if week else {}
        return EverybodyTurnView(
            teacher_id=one.teacher_id,
            teacher=str(one.teacher),
            place=one.place,
            state=state,
            state_label=LABELS[state],
            message=message,
            run_id=one.run_id,
            week_id=week.pk if week else None,
            week_status=week.status if week else "",
            week_label=week.get_status_display() if week else "",
            drive_minutes=values.get("driving", 0),
            unplaced_minutes=int(figures.get("minutes_owed", 0)) - int(figures.get("minutes_placed", 0)),
            is_edited=week is not None and week.revision > 1,
        )

    def _state(self, one: EverybodyTurn) -> tuple[TurnState, str]:
        if one.refused:
            return TurnState.NO_WEEK, self.names.told(one.refused)
        if one.run is None:
            return self._not_begun(one)
        job = one.run.job
        if not job.is_over:
            return self._under_way(job)
        if one.run_id in self.weeks:
            return TurnState.PLANNED, ""
        notes = [job.error, *one.run.summary.get("notes", [])]
        return TurnState.NO_WEEK, self.names.told(next((note for note in notes if note), STOPPED_EARLY))

    def _not_begun(self, one: EverybodyTurn) -> tuple[TurnState, str]:
        if self.plan.ended_at is not None or self.plan.stopped_at is not None:
            return TurnState.LEFT_OUT, STOPPED_BEFORE
        waits_for = self._still_at_work(one.after)
        return TurnState.WAITS, f"For {few_words(waits_for)}." if waits_for else NO_WORKER

    def _under_way(self, job: Job) -> tuple[TurnState, str]:
        if job.state == Job.State.WAITING or job_is_unsent(job):
            return TurnState.WAITS, NO_WORKER
        return TurnState.PLANNING, self.names.told(str(job.progress.get("message", "")))

    def _still_at_work(self, teachers: Collection[int]) -> list[str]:
        waits_for = (self.turns[one] for one in teachers if one in self.turns)
        return [str(one.teacher) for one in waits_for if not one.refused and not (one.run and one.run.job.is_over)]
