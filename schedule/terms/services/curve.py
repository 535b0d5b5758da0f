"""What a term's timetable costs between routine and least driving: asked for with a job, kept, a point chosen.

The timetable stays; the dated weeks differ. A point that is chosen becomes the drafts of the term, and another can
be chosen after it.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from jobs.selectors import UNFINISHED
from jobs.services import job_add, job_stop_ask
from schedule.calendar.words import listed
from schedule.planner.term.plan import plan_curve
from schedule.planner.term.term import LaterTimetable, TermResult
from schedule.terms.models import TermCurve, TermPlan
from schedule.terms.services.found import PlannedTerm, term_contents, term_summary
from schedule.terms.services.loading import LoadedTerm, standing_read, term_load
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.scope import teacher_require
from schedule.weeks.services.patience import CLOCK_TIMES
from schedule.weeks.services.progress import Report
from schedule.weeks.services.runs import run_draft
from schedule.weeks.versions.content import WeekContent, content_from_json, content_to_json

KIND = "term_curve"
WORTHS = (60, 20, 10, 5, 2, 0)
"""Minutes of driving a week that leaving a usual time must save, from routine to least driving."""

CURVE_WORK = 300.0
"""Seconds of work for all of them; the clock leaves ``CLOCK_TIMES`` as many, as to every search."""

LOADED = 10
"""Percent of the bar that reading the weeks takes."""

SAME_OF_ALL = ("ways", "minutes", "shared")
"""What a term's summary says that no choice changes."""

NOT_PLANNED = "This term isn't planned yet. Wait until the plan is made, or plan it again."
GONE = "This choice isn't there anymore. Work the choices out again."


def term_curve_ask(*, actor: Person, term: TermPlan) -> TermCurve:
    """Ask for the choices between routine and least driving; pressing twice gives those under way.

    Raises ``ApplicationError`` where the term has no timetable (yet).
    """
    teacher_require(actor, term.run.teacher)
    if term.standing is None or not term.run.job.is_over:
        raise ApplicationError(NOT_PLANNED, code="not_planned")
    with transaction.atomic():
        key = f"{KIND}:{term.pk}"
        under_way = TermCurve.objects.filter(job__unique_key=key, job__state__in=UNFINISHED).first()
        if under_way is not None:
            return under_way
        job = job_add(kind=KIND, payload={"term": term.pk}, district=term.run.district_id, unique_key=key)
        added_meanwhile = TermCurve.objects.filter(job=job).first()
        if added_meanwhile is not None:
            return added_meanwhile
        curve = TermCurve(district=term.district, term=term, asked_by=actor, job=job)
        curve.full_clean(exclude=["found"])
        curve.save()
        audit_write(actor=actor, district=term.district, action="term_curve_ask", row=curve)
    return curve


def term_curve_stop(*, actor: Person, curve: TermCurve) -> TermCurve:
    """Ask it to end with the choices found so far."""
    teacher_require(actor, curve.term.run.teacher)
    with transaction.atomic():
        job_stop_ask(job=curve.job)
        audit_write(actor=actor, district=curve.district, action="term_curve_stop", row=curve)
    curve.refresh_from_db()
    return curve


# ---- the work --------------------------------------------------------------------------------------------


def curve_of_job(job_id: str) -> TermCurve | None:
    """The curve that a job works on."""
    rows = TermCurve.objects.select_related(
        "term__run__teacher", "term__run__district", "term__standing", "asked_by"
    )
    return rows.filter(job_id=job_id).first()


def term_curve_work(*, curve: TermCurve, report: Report, stop_asked: Callable[[], bool]) -> dict[str, Any]:
    """The points, ready to be kept; writes nothing. A stop keeps those found so far.

    Raises ``ApplicationError`` where the timetable is gone, or a week can't be planned.
    """
    term, began = curve.term, monotonic()
    if term.standing is None:
        raise ApplicationError(NOT_PLANNED, code="not_planned")

    def progress(seconds: float, message: str, done: int, weeks: int) -> None:
        share = min(1.0, (monotonic() - began) / CURVE_WORK)
        report({"percent": LOADED + int((99 - LOADED) * share)})

    report({"percent": 0})
    loaded = term_load(term.run)
    worths = sorted({term.worth, *WORTHS}, reverse=True)
    results = plan_curve(
        loaded.term(standing_read(term.standing, loaded), term.worth, _later_read(term, loaded)),
        worths,
        seed=term.run.seed,
        effort=CURVE_WORK,
        time_limit=CLOCK_TIMES * CURVE_WORK,
        progress=progress,
        stop=stop_asked,
    )
    points = _Points(loaded)
    for worth, result in zip(worths, results, strict=False):
        points.add(worth, result)
    return points.as_json(cut=len(results) < len(worths) or any(one.stopped for one in results))


def _later_read(term: TermPlan, loaded: LoadedTerm) -> list[LaterTimetable]:
    """The timetables that follow the first within the term, in the names of its units."""
    return [
        LaterTimetable(one.first_day.isoformat(), standing_read(one, loaded))
        for one in term.later.order_by("first_day")
    ]


@dataclass(slots=True)
class _Points:
    """Points that differ, each with the weeks that it has; weeks that several have are kept once."""

    loaded: LoadedTerm
    points: dict[tuple[str, ...], dict[str, Any]] = field(default_factory=dict)
    contents: dict[tuple[str, str], WeekContent] = field(default_factory=dict)

    def add(self, worth: int, result: TermResult) -> None:
        """The weeks by one worth, which may be those of the worth before it."""
        plans = tuple(repr(week.itinerary) for week in result.weeks)
        if plans in self.points:
            self.points[plans]["worths"].insert(0, worth)
            return
        held = term_contents(self.loaded, result)
        named = {(monday.isoformat(), plan): one for (monday, one), plan in zip(held.items(), plans, strict=True)}
        self.contents = named | self.contents
        summary = term_summary(PlannedTerm(self.loaded, result, held))
        kept = {key: value for key, value in summary.items() if key not in SAME_OF_ALL}
        self.points[plans] = {"worths": [worth], "weeks": list(named), "summary": kept}

    def as_json(self, *, cut: bool) -> dict[str, Any]:
        """As it is kept: weeks by their number among the contents."""
        numbers = {name: number for number, name in enumerate(self.contents)}
        points = [{**one, "weeks": [numbers[name] for name in one["weeks"]]} for one in self.points.values()]
        contents = [[name[0], content_to_json(one)] for name, one in self.contents.items()]
        return {"points": points, "contents": contents, "cut": cut}


def term_curve_save(*, curve: TermCurve, found: dict[str, Any]) -> None:
    """Keep the points; call it inside a transaction."""
    curve.found = found
    curve.save(update_fields=["found"])


# ---- a point becomes the plan ----------------------------------------------------------------------------


def term_point_take(*, actor: Person, term: TermPlan, worth: int) -> TermPlan:
    """Make the weeks of one choice the term's drafts, in place of those that it has.

    Raises ``ApplicationError``: 404 where there is no such choice, ``changed_since`` where a week of the term was
    published or changed by hand, which stays.
    """
    teacher_require(actor, term.run.teacher)
    with transaction.atomic():
        curve = TermCurve.objects.filter(term=term).order_by("-asked_at", "-pk").first()
        points = curve.found.get("points", []) if curve is not None else []
        point = next((one for one in points if worth in one["worths"]), None)
        if curve is None or point is None:
            raise ApplicationError(GONE, code="not_found", status=404)
        _unchanged_require(term)
        WeekPlan.objects.filter(plan_run=term.run, status=WeekPlan.Status.DRAFT).delete()
        for number in point["weeks"]:
            week, content = curve.found["contents"][number]
            run_draft(term.run, dt.date.fromisoformat(week), content_from_json(content))
        before, term.worth = term.worth, worth
        term.summary = {**term.summary, **point["summary"]}
        term.full_clean(exclude=["summary"])
        term.save(update_fields=["worth", "summary"])
        audit_write(
            actor=actor,
            district=term.district,
            action="term_point_take",
            row=term,
            changes={"worth": [before, worth]},
        )
    return term


def is_takeable(term: TermPlan) -> bool:
    """Whether a choice may replace the weeks of a term."""
    return not _touched(term)


def _touched(term: TermPlan) -> list[dt.date]:
    """The Mondays of weeks that were published or changed by hand; what was taken back is a draft again."""
    past = (WeekPlan.Status.DISCARDED, WeekPlan.Status.REPLACED)
    weeks = WeekPlan.objects.filter(plan_run=term.run).exclude(status__in=past)
    touched = weeks.exclude(status=WeekPlan.Status.DRAFT, revision=1)
    return sorted(set(touched.values_list("monday", flat=True)))


def _unchanged_require(term: TermPlan) -> None:
    if mondays := _touched(term):
        weeks_words = f"the week{'s' if len(mondays) > 1 else ''} of {listed([date_words(one) for one in mondays])}"
        raise ApplicationError(
            f"A choice replaces every week of the term, but {weeks_words} {'were' if len(mondays) > 1 else 'was'} "
            "published or changed by hand. Plan the term again with this choice.",
            code="changed_since",
        )
