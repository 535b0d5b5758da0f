"""Planning everybody's week: a run of the planner for each teacher, begun when those before it have ended.

Each turn is a run as if the teacher's week were planned by itself (``schedule.weeks.services.runs``): the teacher
finds the draft where every other is. Nothing here is searched.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.selectors import today_of
from accounts.services import audit_write, coordinator_require, district_of
from jobs.services import job_stop_ask
from schedule.calendar.words import listed, week_words
from schedule.everybody.models import EverybodyPlan, EverybodyTurn
from schedule.everybody.order import turns_of
from schedule.everybody.selectors.sharing import lacks_of, sharers_in
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.load import monday_of
from schedule.weeks.services.beginning import RunAsked, run_begin
from schedule.weeks.services.runs import KIND
from schedule.weeks.services.weeks import week_discard

MOST_SECONDS = 60
AT_ONCE = 8
"""Runs of one plan that wait or are worked at a time: what others ask for isn't kept waiting by all of them."""
TO_SUNDAY = dt.timedelta(days=6)


def everybody_start(
    *,
    actor: Person,
    teachers: Collection[Person],
    monday: dt.date,
    time_limit: int = 20,
    aim: Aim = Aim.USUAL_TIMES,
    now: dt.datetime | None = None,
) -> EverybodyPlan:
    """Ask for one week of many teachers to be planned; the first turns begin in the same transaction.

    ``time_limit``: seconds of work a teacher. Asking for the same again gives the plan that is under way.
    Raises ``ApplicationError`` with a remedy: 403 for anybody but a coordinator, ``nobody``, ``week_begun``,
    ``time_limit``, ``nothing_owed``, ``under_way``.
    """
    coordinator_require(actor)
    monday = monday_of(monday)
    _check(teachers, monday, today_of(actor, now), time_limit)
    chosen = {one.pk: one for one in teachers}
    sharers = [one for one in sharers_in(actor, monday) if one.teacher in chosen]
    if without := sorted(str(chosen[pk]) for pk in chosen.keys() - {one.teacher for one in sharers}):
        raise ApplicationError(
            f"Nothing is owed by {listed(without)} in {week_words(monday)}. Leave them out.", code="nothing_owed"
        )
    plan = EverybodyPlan(district=district_of(actor), monday=monday, aim=aim, time_limit=time_limit, asked_by=actor)
    with transaction.atomic():
        District.objects.select_for_update(no_key=True).get(pk=plan.district.pk)
        under_way = EverybodyPlan.objects.filter(district=actor.district_id, ended_at=None).first()
        if under_way is not None:
            return _same_or_refuse(under_way, plan, chosen)
        plan.full_clean()
        plan.save()
        lacking = lacks_of(chosen)
        for place, turn in enumerate(turns_of(sharers), 1):
            refused = lacking.get(turn.teacher, "")
            plan.turns.create(teacher_id=turn.teacher, place=place, after=list(turn.after), refused=refused)
        _go_on(plan)
        changes: dict[str, list[Any]] = {
            "teachers": [None, sorted(chosen)],
            "monday": [None, monday.isoformat()],
            "aim": [None, aim.value],
        }
        audit_write(actor=actor, district=plan.district, action="everybody_start", row=plan, changes=changes)
    return plan


def everybody_stop(*, actor: Person, plan: EverybodyPlan) -> EverybodyPlan:
    """Ask for an end: weeks being searched end with the best so far, turns not begun yet aren't."""
    coordinator_require(actor)
    with transaction.atomic():
        stopped = EverybodyPlan.objects.filter(pk=plan.pk, ended_at=None, stopped_at=None)
        if stopped.update(stopped_at=timezone.now()):
            audit_write(actor=actor, district=plan.district, action="everybody_stop", row=plan)
    # After the commit: whoever ends a run holds its job and then asks for the plan, so never both the other way.
    for turn in plan.turns.filter(run__isnull=False).select_related("run__job"):
        if turn.run is not None:
            with transaction.atomic():
                job_stop_ask(job=turn.run.job)
    with transaction.atomic():
        _go_on(plan)
    plan.refresh_from_db()
    return plan


def everybody_take_back(*, actor: Person, plan: EverybodyPlan) -> int:
    """Set aside every draft that a plan made and that isn't in force; gives how many.

    They stay readable, and what is in force stays as it is. Raises ``ApplicationError`` with ``under_way`` while
    the plan is being made, ``nothing_to_take_back`` where no draft is left.
    """
    coordinator_require(actor)
    with transaction.atomic():
        plan = _locked(plan)
        if plan.ended_at is None:
            raise ApplicationError("The weeks are still being planned. Stop that first.", code="under_way")
        drafts = list(drafts_of(plan))
        if not drafts:
            raise ApplicationError("No draft of this plan is left to take back.", code="nothing_to_take_back")
        for week in drafts:
            week_discard(actor=actor, week=week)
        plan.taken_back_at = timezone.now()
        plan.save(update_fields=["taken_back_at"])
        changes = {"weeks": [len(drafts), 0]}
        audit_write(actor=actor, district=plan.district, action="everybody_take_back", row=plan, changes=changes)
    return len(drafts)


def drafts_of(plan: EverybodyPlan) -> Iterable[WeekPlan]:
    """The drafts that a plan made and that are still drafts."""
    rows = WeekPlan.objects.filter(plan_run__everybody_turn__plan=plan, status=WeekPlan.Status.DRAFT)
    return rows.select_related("teacher", "district").order_by("pk")


# ---- turns ----------------------------------------------------------------------------------------------------


def everybody_run_ended(*, run: PlanRun | None) -> None:
    """A run comes to its end with its job: whoever waited for it may begin. Any other run than a turn's is nothing.

    Call it in the transaction of the end, or, where the job is about to fail, before that.
    """
    turn = EverybodyTurn.objects.filter(run=run).select_related("plan").first() if run is not None else None
    if turn is not None:
        with transaction.atomic():
            _go_on(turn.plan, ended=frozenset([turn.teacher_id]))


def everybody_go_on_due() -> None:
    """Go on with every plan under way: a worker may have been lost for good between two turns."""
    for plan in EverybodyPlan.objects.filter(ended_at=None):
        with transaction.atomic():
            _go_on(plan)


def _go_on(plan: EverybodyPlan, ended: frozenset[int] = frozenset()) -> None:
    """Begin the turns whose time has come, or end the plan; call it in a transaction.

    ``ended``: teachers whose turn is over, though their job doesn't say so yet. One at a time for a plan, so of two
    turns that end at one moment the later sees the other's end.
    """
    plan = _locked(plan)
    if plan.ended_at is not None:
        return
    turns = list(plan.turns.select_related("teacher__district", "run__job").order_by("place"))
    over = ended | {turn.teacher_id for turn in turns if _is_over(turn)}
    under_way = sum(turn.run is not None and turn.teacher_id not in over for turn in turns)
    if plan.stopped_at is None:
        under_way = _begin_ready(plan, turns, over, under_way)
    if under_way == 0:
        plan.ended_at = timezone.now()
        plan.save(update_fields=["ended_at"])


def _begin_ready(plan: EverybodyPlan, turns: Iterable[EverybodyTurn], over: frozenset[int], under_way: int) -> int:
    """Begin turns that wait for nobody, as many as may be under way; gives how many are."""
    for turn in turns:
        waits = turn.teacher_id in over or turn.run is not None or not over.issuperset(turn.after)
        if waits or under_way >= AT_ONCE:
            continue
        if _begin(plan, turn):
            under_way += 1
        else:
            over |= {turn.teacher_id}
    return under_way


def _locked(plan: EverybodyPlan) -> EverybodyPlan:
    """The plan as it is now, which nobody else changes until the transaction ends."""
    rows = EverybodyPlan.objects.select_for_update(no_key=True, of=("self",))
    return rows.select_related("asked_by", "district").get(pk=plan.pk)


def _is_over(turn: EverybodyTurn) -> bool:
    return bool(turn.refused) or (turn.run is not None and turn.run.job.is_over)


def _begin(plan: EverybodyPlan, turn: EverybodyTurn) -> bool:
    """Begin a turn with a run of its own, or keep why that isn't possible."""
    run = PlanRun(
        district=plan.district,
        teacher=turn.teacher,
        requested_by=plan.asked_by,
        first_date=plan.monday,
        last_date=plan.monday + TO_SUNDAY,
        time_limit=plan.time_limit,
        aim=plan.aim,
    )
    try:
        # A run that somebody else began is never taken for the turn's: it isn't the plan's to take back.
        turn.run = run_begin(RunAsked(run, KIND, lambda other: False, {"unhurried": True}))
    except ApplicationError as error:
        turn.refused = error.message[:500]
    turn.save(update_fields=["run", "refused"])
    return turn.run is not None


# ---- helpers --------------------------------------------------------------------------------------------------


def _check(teachers: Collection[Person], monday: dt.date, today: dt.date, time_limit: int) -> None:
    if not teachers:
        raise ApplicationError("Choose at least one teacher.", code="nobody")
    if monday <= today:
        raise ApplicationError(
            f"{week_words(monday)[:1].upper()}{week_words(monday)[1:]} has begun. Choose a week that is ahead.",
            code="week_begun",
        )
    if not 1 <= time_limit <= MOST_SECONDS:
        raise ApplicationError(f"Give 1 to {MOST_SECONDS} seconds of search a teacher.", code="time_limit")


def _same_or_refuse(under_way: EverybodyPlan, asked: EverybodyPlan, teachers: Collection[int]) -> EverybodyPlan:
    """The plan under way if it was asked for the same; nothing that was chosen is dropped without a word."""
    if under_way.monday != asked.monday:
        raise ApplicationError(
            f"Everybody is being planned for {week_words(under_way.monday)} right now. Wait for that, or stop it.",
            code="under_way",
        )
    same = (under_way.aim, under_way.time_limit) == (str(asked.aim), asked.time_limit)
    if not same or {*under_way.turns.values_list("teacher", flat=True)} != {*teachers}:
        raise ApplicationError(
            "This week is being planned right now with other choices. Wait for that, or stop it, then ask again.",
            code="under_way",
        )
    return under_way
