"""Reads of questions about a week for pages and the API; the shapes are in ``schedule.weeks.question_data``."""

from collections.abc import Mapping
from typing import Any

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from schedule.weeks.models import WeekPlan, WeekQuestion
from schedule.weeks.question_data import (
    CurveView,
    FavorsView,
    FavorView,
    PointView,
    QuestionView,
    ReplanningView,
    TellView,
)
from travel.places.models import Building

Kind = WeekQuestion.Kind


def latest_question(viewer: Person, week: WeekPlan, kind: str) -> WeekQuestion | None:
    """The newest question of a kind about a week, if there is one that the viewer may see."""
    rows = WeekQuestion.objects.visible_to(viewer).select_related("job", "week", "district")
    return rows.filter(week=week, kind=kind).order_by("-asked_at", "-pk").first()


def question_get(viewer: Person, week: WeekPlan, kind: str) -> WeekQuestion:
    """The same; raises ``ApplicationError`` (404) where there is none."""
    found = latest_question(viewer, week, kind)
    if found is None:
        raise ApplicationError("Nothing of this was asked about this week.", code="not_found", status=404)
    return found


def favors_found(viewer: Person, week: WeekPlan) -> FavorsView | None:
    """The favors that were found for a week; ``None`` where nobody asked."""
    row = latest_question(viewer, week, Kind.FAVORS)
    if row is None:
        return None
    found = row.found
    names = student_names(viewer)
    schools = dict(Building.objects.visible_to(viewer).values_list("code", "name"))
    return FavorsView(
        question=_question(row),
        favors=tuple(_favor(one, names, schools) for one in found.get("favours", [])),
        possible=int(found.get("possible", 0)),
        tried=int(found.get("tried", 0)),
        stopped=bool(found.get("stopped", False)),
        dismissed=int(found.get("dismissed", 0)),
        base_proved=bool(found.get("base_proved", False)),
        base_near=bool(found.get("base_near", True)),
        replanning=ReplanningView(*found["replanning"]) if found.get("replanning") else None,
    )


def _favor(one: Mapping[str, Any], names: StudentNames, schools: Mapping[str, str]) -> FavorView:
    """A favor as it was kept, in the reader's words."""
    words = {key: names.told(one[key]) for key in ("text", "ask")}
    return FavorView(**{**one, **words}, building_name=schools.get(one["building_code"], ""))


def curve_found(viewer: Person, week: WeekPlan) -> CurveView | None:
    """Driving against sessions moved, as it was found for a week; ``None`` where nobody asked."""
    row = latest_question(viewer, week, Kind.CURVE)
    if row is None:
        return None
    found = row.found
    names = student_names(viewer)
    return CurveView(
        question=_question(row),
        points=tuple(
            PointView(
                number=number,
                moved=one["moved"],
                driving=one["driving"],
                proved=one["proved"],
                sentences=names.all_told(one["sentences"]),
                tell=tuple(TellView(**{**told, "classes": tuple(told["classes"])}) for told in one["tell"]),
            )
            for number, one in enumerate(found.get("points", []))
        ),
        complete=bool(found.get("complete", False)),
        price_of_staying=int(found.get("price_of_staying", 0)),
        message=names.told(str(found.get("message", ""))),
    )


def _question(row: WeekQuestion) -> QuestionView:
    job = row.job
    return QuestionView(
        question_id=row.pk,
        kind=row.kind,
        state=job.state,
        is_over=job.is_over,
        stop_asked=job.stop_asked,
        percent=100 if job.is_over else int(job.progress.get("percent", 0)),
        error=job.error,
        stale=row.week.revision != row.revision,
        asked_at=row.asked_at,
        found=0 if job.is_over else int(job.progress.get("found", 0)),
    )
