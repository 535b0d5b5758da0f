"""Reads of the choices between routine and least driving of a term; the shapes are in ``schedule.terms.data``."""

from collections.abc import Mapping
from typing import Any

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.planner.term.term import DepartureReason
from schedule.terms.data import TermCurveView, TermPointView
from schedule.terms.models import TermCurve, TermPlan

NOT_ASKED = "These choices weren't worked out for this term yet."


def latest_curve(viewer: Person, term: TermPlan) -> TermCurve | None:
    """The newest one, if there is one that the viewer may see."""
    rows = TermCurve.objects.visible_to(viewer).select_related("job", "term__run__teacher", "district")
    return rows.filter(term=term).order_by("-asked_at", "-pk").first()


def curve_get(viewer: Person, term: TermPlan) -> TermCurve:
    """The same; raises ``ApplicationError`` (404) where there is none."""
    found = latest_curve(viewer, term)
    if found is None:
        raise ApplicationError(NOT_ASKED, code="not_found", status=404)
    return found


def term_curve(viewer: Person, term: TermPlan) -> TermCurveView | None:
    """The choices of a term; ``None`` where nobody asked for them."""
    row = latest_curve(viewer, term)
    if row is None:
        return None
    job = row.job
    return TermCurveView(
        state=job.state,
        is_over=job.is_over,
        stop_asked=job.stop_asked,
        percent=100 if job.is_over else int(job.progress.get("percent", 0)),
        error=job.error,
        points=tuple(_point(one, term) for one in row.found.get("points", [])),
        cut=bool(row.found.get("cut", False)),
    )


def _point(kept: Mapping[str, Any], term: TermPlan) -> TermPointView:
    """``taken``: of the term's own worth, and as good; a term that was planned in too little time may be worse."""
    summary = kept["summary"]
    same = all(summary[name] == term.summary.get(name) for name in ("kept", "open", "drive_minutes"))
    return TermPointView(
        worths=tuple(kept["worths"]),
        kept=summary["kept"],
        open=summary["open"],
        drive_minutes=summary["drive_minutes"],
        weeks_changed=sum(_leaves(week) for week in summary["weeks"]),
        proved=all(week["proved"] for week in summary["weeks"]),
        taken=same and term.worth in kept["worths"],
    )


def _leaves(week: Mapping[str, Any]) -> bool:
    """Whether a session of the week leaves its usual time to save driving."""
    return any(one["why"] == DepartureReason.SAVES_DRIVING for one in week["exceptions"])
