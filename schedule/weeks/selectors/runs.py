"""Reads of planning runs for pages and the API; the shape is ``schedule.weeks.data.RunView``."""

import datetime as dt
from collections.abc import Sequence

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from jobs.dispatch import job_is_unsent
from schedule.weeks.aims import aimed_week
from schedule.weeks.data import RunView
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.rest.reading import falling_out
from schedule.weeks.selectors.detail import goal_figures, titles_of
from schedule.weeks.selectors.weeks import week_line
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import content_read

UNSENT = (
    "Saved, but it can't start right now: the part of the program that plans can't be reached. It "
    "starts on its own as soon as it can. You can leave this page, stop it, or ask for other dates instead."
)
"""Said of a run whose sending failed (docs/background-work.md)."""


def run_get(viewer: Person, run_id: int) -> PlanRun:
    """A run that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    row = PlanRun.objects.visible_to(viewer).select_related("job", "teacher", "district").filter(pk=run_id).first()
    if row is None:
        raise ApplicationError("There is no such planning run.", code="not_found", status=404)
    return row


def latest_run(viewer: Person, teacher: Person) -> PlanRun | None:
    """The newest run for a teacher, if there is one that the viewer may see."""
    rows = PlanRun.objects.visible_to(viewer).select_related("job", "teacher", "district")
    return rows.filter(teacher=teacher).order_by("-requested_at", "-pk").first()


def run_detail(viewer: Person, run: PlanRun, names: StudentNames | None = None) -> RunView:
    """How far a run is and what it has made; raises ``ApplicationError`` (404) for a hidden one.

    Students are called by ``names``, or as this viewer may know them.
    """
    names = names or student_names(viewer)
    row = run_get(viewer, run.pk)
    job, progress = row.job, row.job.progress
    over = job.is_over
    weeks = list(
        row.weeks.select_related("created_by", "published_by", "district", "based_on").order_by("monday", "pk")
    )
    titles = titles_of(weeks)
    return RunView(
        run_id=row.pk,
        teacher_id=row.teacher_id,
        first_date=row.first_date,
        last_date=row.last_date,
        state=job.state,
        is_over=over,
        stop_asked=job.stop_asked,
        percent=100 if over else int(progress.get("percent", 0)),
        message=UNSENT if job_is_unsent(job) else names.told(str(progress.get("message", ""))),
        week=str(progress.get("week", "")),
        stage=str(progress.get("stage", "")),
        elapsed_seconds=float(progress.get("elapsed", 0)),
        figures=goal_figures({"goals": progress.get("figures", [])}),
        weeks=tuple(week_line(week, names, titles) for week in weeks),
        notes=names.all_told(row.summary.get("notes", [])),
        error=names.told(job.error),
        requested_at=row.requested_at,
        aim=row.aim,
        aim_label=row.get_aim_display(),
        technical=names.told(str(progress.get("technical", ""))),
        aims=tuple(
            aimed_week(dt.date.fromisoformat(monday), kept) for monday, kept in row.summary.get("aims", {}).items()
        ),
        first_time=row.first_time,
        **_rest_told(row, weeks, names),
    )


def _rest_told(run: PlanRun, weeks: Sequence[WeekPlan], names: StudentNames) -> dict[str, tuple[str, ...]]:
    """What a draft of the rest of a week changes, and what still falls out in it."""
    drafts = [one for one in weeks if one.status == WeekPlan.Status.DRAFT]
    stood = next((one.based_on for one in drafts), None)
    if run.first_time is None or stood is None:
        return {}
    before, after = content_read(stood), content_read(drafts[0])
    labels = labels_of(before, after)
    out = falling_out(run.teacher, [one for one in after.sessions if one.date >= run.first_date])
    told = [f"{labels.what(one)}, {labels.where(one)}" for one in after.sessions if one.uid in out]
    return {
        "changes": names.all_told(differences(before, after, labels).sentences),
        "falls_out": names.all_told(told),
    }
