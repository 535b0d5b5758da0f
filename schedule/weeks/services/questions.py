"""What to ask for and what staying costs: asked for with a job, worked out by the planner, kept with the week.

The job's payload holds the week's id only. A second asking while one is under way gives that one.
"""

from collections.abc import Callable, Mapping
from typing import Any

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from accounts.validation import row_validate
from jobs.selectors import UNFINISHED
from jobs.services import job_add, job_stop_ask
from schedule.planner.asking.disturbance import curve_of
from schedule.planner.asking.favors import find_favors
from schedule.weeks.models import WeekPlan, WeekQuestion
from schedule.weeks.planning.load import load_teacher
from schedule.weeks.planning.outcome import plan_of_content
from schedule.weeks.planning.questions import (
    curve_input,
    curve_json,
    favors_input,
    favors_json,
    moment_words,
    movables,
)
from schedule.weeks.selectors.questions import latest_question
from schedule.weeks.selectors.scope import week_require
from schedule.weeks.services.content import content_write
from schedule.weeks.versions.content import content_from_json, content_read
from schedule.weeks.versions.history import content_in_force

Kind = WeekQuestion.Kind

JOB_KINDS = {Kind.FAVORS: "find_favours", Kind.CURVE: "weigh_changes"}
LONGEST_NAME = 60
ASKED_ABOUT = (WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED)

type Report = Callable[[Mapping[str, Any]], None]


def week_favors_ask(*, actor: Person, week: WeekPlan) -> WeekQuestion:
    """Ask which single favors would place more or save driving; the answer comes in the background."""
    return _ask(actor, week, Kind.FAVORS)


def week_curve_ask(*, actor: Person, week: WeekPlan) -> WeekQuestion:
    """Ask what it costs to plan this week again and leave sessions where they are in the week in force."""
    if content_in_force(week.teacher, week.monday) is None:
        raise ApplicationError(
            "No week is in force yet, so there are no times to keep. Publish a week first.", code="not_in_force"
        )
    return _ask(actor, week, Kind.CURVE)


def _ask(actor: Person, week: WeekPlan, kind: WeekQuestion.Kind) -> WeekQuestion:
    week_require(actor, week)
    if week.status not in ASKED_ABOUT:
        raise ApplicationError("Ask about a draft or the week in force.", code="not_editable")
    load_teacher(week.teacher)
    with transaction.atomic():
        key = f"{JOB_KINDS[kind]}:{week.pk}"
        under_way = WeekQuestion.objects.filter(job__unique_key=key, job__state__in=UNFINISHED).first()
        if under_way is not None:
            return under_way
        job = job_add(kind=JOB_KINDS[kind], payload={"week": week.pk}, district=week.district_id, unique_key=key)
        added_meanwhile = WeekQuestion.objects.filter(job=job).first()
        if added_meanwhile is not None:
            return added_meanwhile
        question = WeekQuestion(
            district=week.district, week=week, kind=kind, revision=week.revision, asked_by=actor, job=job
        )
        question.full_clean(exclude=["found"])
        question.save()
        audit_write(
            actor=actor,
            district=week.district,
            action="week_question_ask",
            row=question,
            changes={"kind": [None, kind.value]},
        )
    return question


def week_question_stop(*, actor: Person, question: WeekQuestion) -> WeekQuestion:
    """Ask a question to end with what it has found so far."""
    week_require(actor, question.week)
    with transaction.atomic():
        job_stop_ask(job=question.job)
        audit_write(actor=actor, district=question.district, action="week_question_stop", row=question)
    question.refresh_from_db()
    return question


# ---- the work --------------------------------------------------------------------------------------------


def question_of_job(job_id: str) -> WeekQuestion | None:
    """The question that a job answers."""
    rows = WeekQuestion.objects.select_related("week__teacher", "week__district", "asked_by", "job")
    return rows.filter(job_id=job_id).first()


def question_work(*, question: WeekQuestion, report: Report, stop_asked: Callable[[], bool]) -> dict[str, Any]:
    """The answer, ready to be kept; writes nothing."""

    def progress(done: int, of: int, found: int = 0) -> None:
        report({"percent": min(99, 100 * done // max(1, of)), "found": found})

    week, content = question.week, content_read(question.week)
    if question.kind == Kind.FAVORS:
        loaded = favors_input(week, content)
        found = find_favors(
            loaded.problem,
            movables=movables(loaded),
            moment=moment_words(loaded),
            known=plan_of_content(loaded, content),
            progress=progress,
            stop=stop_asked,
        )
        return favors_json(found)
    in_force = content_in_force(week.teacher, week.monday)
    if in_force is None:
        raise ApplicationError("The week in force was removed in the meantime.", code="not_in_force")
    loaded = curve_input(week, content)
    return curve_json(loaded, in_force, curve_of(loaded.problem, progress=progress, stop=stop_asked))


def question_save(*, question: WeekQuestion, found: dict[str, Any]) -> None:
    """Keep an answer; call it inside a transaction."""
    question.found = found
    question.save(update_fields=["found"])


# ---- a point as a draft ----------------------------------------------------------------------------------


def week_point_save(*, actor: Person, week: WeekPlan, point: int) -> WeekPlan:
    """Make a draft of one point of the week's latest curve, counted from 0; it has a name that says which."""
    week_require(actor, week)
    question = latest_question(actor, week, Kind.CURVE)
    points = question.found.get("points", []) if question is not None else []
    if not 0 <= point < len(points):
        raise ApplicationError("That point is no longer on the curve.", code="not_found", status=404)
    chosen = points[point]
    moved = "1 session moved" if chosen["moved"] == 1 else f"{chosen['moved']} sessions moved"
    with transaction.atomic():
        draft = WeekPlan(
            district=week.district,
            teacher=week.teacher,
            monday=week.monday,
            last_date=week.last_date,
            name=f"{moved}, {chosen['driving']} minutes of driving",
            created_by=actor,
        )
        draft.full_clean(exclude=["figures", "changes"])
        draft.save()
        content_write(draft, content_from_json(chosen["content"]))
        audit_write(
            actor=actor,
            district=week.district,
            action="week_point_save",
            row=draft,
            changes={"moved": [None, chosen["moved"]]},
        )
    return draft


def week_rename(*, actor: Person, week: WeekPlan, name: str) -> WeekPlan:
    """Name a draft, or take its name away; published versions are never changed."""
    week_require(actor, week)
    if len(name) > LONGEST_NAME:
        raise ApplicationError(f"Choose a name of at most {LONGEST_NAME} characters.", code="long_name")
    if week.status != WeekPlan.Status.DRAFT:
        raise ApplicationError("Only a draft can be named.", code="not_editable")
    with transaction.atomic():
        before, week.name = week.name, " ".join(name.split())
        row_validate(week, exclude=["figures", "changes"])
        WeekPlan.objects.filter(pk=week.pk, status=WeekPlan.Status.DRAFT).update(name=week.name)
        audit_write(
            actor=actor,
            district=week.district,
            action="week_rename",
            row=week,
            changes={"name": [bool(before), bool(week.name)]},
        )
    return week
