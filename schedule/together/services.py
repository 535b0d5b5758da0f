"""Planning several teachers together: asked for with a job, worked through in the background, kept as drafts.

Each teacher's draft is accepted as any other, or a coordinator publishes all of them at once.
"""

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import audit_write, coordinator_require, district_of
from jobs.services import job_add, job_stop_ask
from schedule.calendar.words import listed, week_words
from schedule.planner.result import Itinerary, Result
from schedule.planner.together.plan import ApartError, TogetherResult, plan_together
from schedule.planner.together.shared import Party
from schedule.together.loading import LoadedParty, LoadedTeacher, together_load
from schedule.together.models import TogetherPlan
from schedule.together.words import (
    AskedTogether,
    chosen_otherwise,
    cost_told,
    figures_of_goals,
    sums_told,
    ways_given_told,
)
from schedule.weeks.aims import Aim
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.load import monday_of
from schedule.weeks.planning.outcome import content_of, sessions_of_plan
from schedule.weeks.planning.told import left_told
from schedule.weeks.services.content import content_write
from schedule.weeks.services.publishing import publishing
from schedule.weeks.services.weeks import week_publish
from schedule.weeks.versions.content import WeekContent

KIND = "plan_together"
LONGEST = 720
"""Seconds by the clock for all of it; a job is cut off by ``JOBS_LONGEST_SECONDS``."""
MOST_TEACHERS, MOST_SECONDS = 12, 60
NAME = "Planned together"
NOT_JOINT = "Sessions that two give together are apart: with them less would be placed, or no weeks were found."
TO_SUNDAY = dt.timedelta(days=6)


@dataclass(frozen=True, slots=True)
class TogetherFound:
    """What is to be saved: contents by teacher, and what is told of them."""

    contents: Mapping[int, WeekContent]
    told: Mapping[str, Any]


def together_plan_start(
    *,
    actor: Person,
    teachers: Collection[Person],
    monday: dt.date,
    time_limit: int = 10,
    aim: Aim = Aim.USUAL_TIMES,
    now: dt.datetime | None = None,
) -> TogetherPlan:
    """Ask for one week of several teachers to be planned; the job is added in the same transaction.

    ``time_limit``: seconds of work each time one week is planned. Asking for the same again gives the plan under
    way. Raises ``ApplicationError`` with a remedy: 403 for anybody but a coordinator, ``two_teachers``,
    ``too_many_teachers``, ``other_district``, ``week_begun``, ``time_limit``, ``under_way`` where the week is being
    planned with other choices, which are named, or what keeps one teacher's week from being planned.
    """
    coordinator_require(actor)
    chosen = sorted({one.pk: one for one in teachers}.values(), key=str)
    monday = monday_of(monday)
    if any(one.district_id != actor.district_id for one in chosen):
        raise ApplicationError("Choose teachers of your district only.", code="other_district")
    _check(chosen, monday, today_of(actor, now), time_limit)
    together_load(chosen, monday, aim)
    with transaction.atomic():
        ids = [one.pk for one in chosen]
        payload: dict[str, Any] = {"monday": monday, "teachers": ids}
        key = f"{KIND}:{actor.district_id}:{monday}"
        job = job_add(kind=KIND, payload=payload, district=actor.district_id, unique_key=key)
        row = TogetherPlan(
            district=district_of(actor), monday=monday, aim=aim, time_limit=time_limit, asked_by=actor, job=job
        )
        under_way = TogetherPlan.objects.filter(job=job).first()
        if under_way is not None:
            return _same_or_refuse(under_way, row, chosen)
        row.full_clean()
        row.save()
        row.teachers.set(chosen)
        changes: dict[str, list[Any]] = {"teachers": [None, ids], "monday": [None, monday.isoformat()]}
        audit_write(actor=actor, district=row.district, action="together_plan_start", row=row, changes=changes)
    return row


def together_plan_stop(*, actor: Person, row: TogetherPlan) -> TogetherPlan:
    """Ask a plan to end with the best that it has so far."""
    coordinator_require(actor)
    with transaction.atomic():
        job_stop_ask(job=row.job)
        audit_write(actor=actor, district=row.district, action="together_plan_stop", row=row)
    row.refresh_from_db()
    return row


def together_plan_work(
    *, row: TogetherPlan, report: Callable[[Mapping[str, Any]], None], stop_asked: Callable[[], bool]
) -> TogetherFound:
    """Plan the weeks; writes nothing. Raises ``ApplicationError`` where there are none that hold together."""
    report({"message": "Reading the weeks."})
    loaded = together_load(sorted(row.teachers.all(), key=str), row.monday, Aim(row.aim))

    def plan(party: Party, seconds: float) -> TogetherResult:
        return plan_together(
            party,
            effort=row.time_limit,
            time_limit=seconds,
            tell=lambda message: report({"message": message}),
            stop=stop_asked,
        )

    try:
        return _found(*_with_joint_sessions(loaded, plan))
    except ApartError as error:
        raise ApplicationError(f"{error} Nothing was kept.", code="no_weeks") from error


def _with_joint_sessions(
    loaded: LoadedParty, plan: Callable[[Party, float], TogetherResult]
) -> tuple[LoadedParty, TogetherResult]:
    """Weeks in which sessions that are given together are; without that where it leaves less placed, or no weeks.

    Raises ``ApartError``.
    """
    if not loaded.party.joint:
        return loaded, plan(loaded.party, LONGEST)
    result: TogetherResult | None = None
    with suppress(ApartError):
        result = plan(loaded.party, LONGEST / 2)
    if result is not None and result.value[0] <= sum(one.unplaced for one in result.own.values()):
        return loaded, result
    alone = replace(loaded, party=replace(loaded.party, joint=()), apart=(*loaded.apart, NOT_JOINT))
    other = plan(alone.party, LONGEST / 2)
    return (loaded, result) if result is not None and result.value[0] <= other.value[0] else (alone, other)


def together_plan_save(*, row: TogetherPlan, found: TogetherFound) -> list[WeekPlan]:
    """Write a draft for each teacher, in place of those that this plan made before; call it in a transaction."""
    with transaction.atomic():
        WeekPlan.objects.filter(pk__in=weeks_of(row), status=WeekPlan.Status.DRAFT).delete()
        weeks = [_draft(row, teacher, found.contents[teacher.pk]) for teacher in row.teachers.order_by("pk")]
        row.found = {**found.told, "weeks": {str(week.teacher_id): week.pk for week in weeks}}
        row.save(update_fields=["found"])
        changes = {"weeks": [None, len(weeks)]}
        audit_write(
            actor=row.asked_by, district=row.district, action="together_plan_save", row=row, changes=changes
        )
    return weeks


def together_publish(*, actor: Person, row: TogetherPlan) -> int:
    """Put every draft of a plan in force, or none; gives how many.

    In an order in which each finds its times free: what one teacher's week in force holds until now may be what
    another's draft needs. Raises the ``ApplicationError`` of a draft that is refused, and ``nothing_to_publish``.
    """
    coordinator_require(actor)
    with publishing(row.district):
        left = list(WeekPlan.objects.filter(pk__in=weeks_of(row), status=WeekPlan.Status.DRAFT).order_by("pk"))
        if not left:
            raise ApplicationError("No draft of this plan is left to publish.", code="nothing_to_publish")
        count = len(left)
        while left:
            refused = {week.pk: error for week in left if (error := _refusal(actor, week)) is not None}
            if len(refused) == len(left):
                first = left[0]
                raise ApplicationError(f"{first.teacher}: {refused[first.pk].message}", code=refused[first.pk].code)
            left = [week for week in left if week.pk in refused]
        changes = {"weeks": [None, count]}
        audit_write(actor=actor, district=row.district, action="together_publish", row=row, changes=changes)
    return count


def together_plan_of_job(job_id: str) -> TogetherPlan | None:
    """The plan that a job works on."""
    return TogetherPlan.objects.select_related("district", "asked_by", "job").filter(job_id=job_id).first()


def weeks_of(row: TogetherPlan) -> list[int]:
    """The ids of the drafts that a plan made."""
    return list(row.found.get("weeks", {}).values())


# ---- helpers --------------------------------------------------------------------------------------------------


def _check(teachers: Collection[Person], monday: dt.date, today: dt.date, time_limit: int) -> None:
    if len(teachers) < 2:
        raise ApplicationError("Choose at least two teachers of your district.", code="two_teachers")
    if len(teachers) > MOST_TEACHERS:
        raise ApplicationError(f"Choose at most {MOST_TEACHERS} teachers at once.", code="too_many_teachers")
    if monday <= today:
        raise ApplicationError(
            f"{week_words(monday)[:1].upper()}{week_words(monday)[1:]} has begun. Choose a week that is ahead.",
            code="week_begun",
        )
    if not 1 <= time_limit <= MOST_SECONDS:
        raise ApplicationError(f"Give 1 to {MOST_SECONDS} seconds of search a week.", code="time_limit")


def _same_or_refuse(under_way: TogetherPlan, asked: TogetherPlan, teachers: Collection[Person]) -> TogetherPlan:
    """The plan under way if it was asked for the same; nothing that was chosen is dropped without a word."""
    known = sorted(under_way.teachers.all(), key=str)
    otherwise = chosen_otherwise(
        AskedTogether(tuple(map(str, known)), Aim(under_way.aim), under_way.time_limit),
        AskedTogether(tuple(map(str, teachers)), Aim(asked.aim), asked.time_limit),
    )
    if not otherwise and {*known} == {*teachers}:
        return under_way
    whom = listed([str(one) for one in known])
    raise ApplicationError(
        f"{whom} are being planned together right now for {week_words(asked.monday)}. {' '.join(otherwise)} "
        "Nothing of what you chose is planned yet. Wait for that plan, or stop it, then ask again.",
        code="under_way",
    )


def _found(loaded: LoadedParty, result: TogetherResult) -> TogetherFound:
    party = loaded.party
    gave, sums = ways_given_told(party, result), sums_told(party, result)
    costs, own, now = [], {}, {}
    for one in loaded.teachers:
        figures = result.weeks[one.id].figures
        if figures is not None:
            costs.append(cost_told(str(one.teacher), party.goals, result.own[one.id], figures))
            own[one.id], now[one.id] = figures_of_goals(result.own[one.id]), figures_of_goals(figures)
    whom = listed([str(one.teacher) for one in loaded.teachers])
    note = " ".join([f"Planned together: {whom}.", *loaded.apart])
    pairs = [(one, result.weeks[one.id]) for one in loaded.teachers]
    contents = {
        one.teacher.pk: _content(one, week, week.plan, note) for one, week in pairs if week.plan is not None
    }
    told = {"gave_way": gave, "sums": sums, "costs": costs, "own": own, "now": now, "proved": result.proved}
    return TogetherFound(contents, told)


def _content(one: LoadedTeacher, result: Result, plan: Itinerary, note: str) -> WeekContent:
    told = replace(left_told(one.loaded, result.unplaced, {}), stages=result.stages, notes=(note,))
    return content_of(one.loaded, sessions_of_plan(one.loaded, plan, one.in_force), plan, told)


def _draft(row: TogetherPlan, teacher: Person, content: WeekContent) -> WeekPlan:
    draft = WeekPlan(
        district=row.district,
        teacher=teacher,
        monday=row.monday,
        last_date=row.monday + TO_SUNDAY,
        created_by=row.asked_by,
        name=NAME,
    )
    draft.full_clean(exclude=["figures", "changes"])
    draft.save()
    content_write(draft, content)
    return draft


def _refusal(actor: Person, week: WeekPlan) -> ApplicationError | None:
    """Publish a draft, or say why it can't be yet."""
    try:
        with transaction.atomic():
            week_publish(actor=actor, week=week, expected_revision=week.revision)
    except ApplicationError as error:
        return error
    return None
