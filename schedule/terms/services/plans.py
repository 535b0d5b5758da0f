"""Planning a term: asked for with a job, worked through in the background, kept as drafts and a standing timetable.

It is a planning run like that of single weeks (``schedule.weeks.services.runs``): one at a time for a teacher, and
stopped at the same place.
"""

import datetime as dt
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from django.db import transaction

from accounts.dates import span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from accounts.validation import date_problem
from caseload.ledger.defaults import MOST_USUAL_TIMES_WORTH
from schedule.calendar.words import week_words
from schedule.planner.term.plan import NoWeekError, plan_term
from schedule.planner.term.term import LaterTimetable, StandingTimetable, Term
from schedule.terms.changing import Changed, TimetableChange, Way
from schedule.terms.models import TermPlan
from schedule.terms.selectors.worth import district_worth
from schedule.terms.services.found import PlannedTerm, term_contents, term_summary
from schedule.terms.services.kept import TermKept
from schedule.terms.services.loading import LoadedTerm, standing_load, term_load
from schedule.terms.services.standing import standing_add
from schedule.terms.ways import ways_of
from schedule.terms.words import FIRST_TERM, doing_words
from schedule.weeks.models import PlanRun, TimetableVersion, WeekPlan
from schedule.weeks.planning.load import (
    buildings_taught,
    check_one_clock,
    district_of_teacher,
    lines_of,
    load_teacher,
)
from schedule.weeks.selectors.scope import planning_as, teacher_require
from schedule.weeks.services.beginning import RunAsked, run_begin
from schedule.weeks.services.kept import AGAIN, Write
from schedule.weeks.services.patience import CLOCK_TIMES
from schedule.weeks.services.progress import Report
from schedule.weeks.services.runs import mondays_between, run_draft

logger = logging.getLogger(__name__)

KIND = "plan_term"
MOST_WEEKS = 45
MOST_SECONDS = 300
USUAL_SECONDS = 120


def term_plan_start(
    *,
    actor: Person,
    teacher: Person,
    first_date: dt.date,
    last_date: dt.date,
    worth: int | None = None,
    way: Way = Way.FEWEST_MOVES,
    afresh: bool = False,
    seed: int = 1,
    time_limit: int = USUAL_SECONDS,
) -> TermPlan:
    """Ask for one timetable for all weeks between two dates, in the background.

    ``worth``: a session leaves its usual time only where that saves so many minutes of driving in its week, as the
    district's rules of the first date say where none is given;
    ``way``: what comes first where a timetable in force has to change, which is kept otherwise unless ``afresh``;
    ``time_limit``: seconds of search for the whole term. Pressing twice gives the plan that is being made. Raises
    ``ApplicationError`` with a remedy where rules, contract days or services are missing, or (code
    ``run_under_way``) where something else of this teacher is being planned.
    """
    teacher_require(actor, teacher)
    _check_dates(first_date, last_date)
    if worth is None:
        worth = district_worth(district_of_teacher(teacher), first_date)
    _check_numbers(worth, time_limit)
    _check_ready(teacher, first_date, last_date)
    run = PlanRun(
        district=district_of_teacher(teacher),
        teacher=teacher,
        requested_by=actor,
        first_date=first_date,
        last_date=last_date,
        seed=seed,
        time_limit=time_limit,
    )
    term = TermPlan(district=run.district, run=run, worth=worth, way=way, afresh=afresh)
    asked = RunAsked(run, KIND, lambda other: _asked_of(other.term) == _asked_of(term), {})
    with transaction.atomic():
        begun = run_begin(asked)
        if begun is not run:
            return begun.term
        term.run = run
        term.full_clean(exclude=["summary"])
        term.save()
        dates = f"{first_date} to {last_date}"
        changes: dict[str, list[Any]] = {"dates": [None, dates], "worth": [None, worth]}
        audit_write(actor=actor, district=run.district, action="term_plan_start", row=term, changes=changes)
    return term


def _asked_of(term: TermPlan) -> tuple[dt.date, dt.date, int, str, bool]:
    """First and last date, what usual times are worth, the way of a change, whether to plan afresh."""
    return term.run.first_date, term.run.last_date, term.worth, term.way, term.afresh


def _check_dates(first: dt.date, last: dt.date) -> None:
    if problem := date_problem(first) or date_problem(last):
        raise ApplicationError(problem, code="bad_date")
    if last < first:
        raise ApplicationError("The last date is before the first.", code="dates_swapped")
    if len(mondays_between(first, last)) > MOST_WEEKS:
        raise ApplicationError(
            f"A term has at most {MOST_WEEKS} weeks here. Choose a nearer last date.", code="too_many_weeks"
        )


def _check_numbers(worth: int, time_limit: int) -> None:
    if not 0 <= worth <= MOST_USUAL_TIMES_WORTH:
        raise ApplicationError(f"Give 0 to {MOST_USUAL_TIMES_WORTH} minutes of driving a week.", code="worth")
    if not 1 <= time_limit <= MOST_SECONDS:
        raise ApplicationError(f"Give 1 to {MOST_SECONDS} seconds of search.", code="time_limit")


def _check_ready(teacher: Person, first: dt.date, last: dt.date) -> None:
    """Refuse at once what would fail later."""
    load_teacher(teacher)
    lines = lines_of(teacher, first, last)
    if not lines:
        raise ApplicationError(
            f"No service of yours is in force from {span_words(first, last)}. Add services, or choose other dates.",
            code="no_services",
        )
    check_one_clock(buildings_taught(lines, first, last), first)


def term_of_job(job_id: str) -> TermPlan | None:
    """The term that a job works on."""
    rows = TermPlan.objects.select_related(
        "run__teacher", "run__district", "run__requested_by__district", "run__job"
    )
    term = rows.filter(run__job_id=job_id).first()
    if term is not None:
        term.run.requested_by = planning_as(term.run.requested_by, term.run.teacher)
    return term


# ---- the work --------------------------------------------------------------------------------------------


def term_plan_work(
    *,
    term: TermPlan,
    report: Report,
    stop_asked: Callable[[], bool],
    keep: Write = lambda kept: True,
) -> PlannedTerm:
    """Load every week, plan the term, judge each week; writes only what ``keep`` writes.

    A stop keeps the best found so far. What was kept before an interruption isn't looked for again.
    """
    kept = TermKept.of(keep, term.run.kept)
    again = AGAIN if term.run.kept else ""
    say = _Telling(report, term.run.time_limit, tick=kept.tick)
    say.line(f"Reading the weeks from {span_words(term.run.first_date, term.run.last_date)}.{again}", 0)
    loaded = term_load(term.run)
    say.line(f"{len(loaded.weeks)} weeks are read. Looking for a first timetable.", LOADED)
    based_on, changed = _ways(term, loaded, kept, stop_asked)
    kept.begin()
    try:
        result = plan_term(
            _question(loaded, changed, term.worth),
            seed=term.run.seed,
            effort=term.run.time_limit,
            time_limit=CLOCK_TIMES * term.run.time_limit,
            progress=say.searching,
            stop=stop_asked,
            memory=kept.memory,
        )
    except NoWeekError as error:
        words = week_words(dt.date.fromisoformat(error.week))
        raise ApplicationError(
            f"In {words} rules contradict each other. {error}", code="rules_contradict"
        ) from error
    found = PlannedTerm(loaded, result, term_contents(loaded, result), based_on, changed)
    say.line(f"{len(found.contents)} weeks are planned.", 100)
    return found


def _question(loaded: LoadedTerm, changed: Sequence[Changed], worth: int) -> Term:
    """The weeks with the timetable that the way taken makes, or the two of one that begins later."""
    if not changed:
        return loaded.term(None, worth)
    way = changed[0]
    if way.until_then is None:
        return loaded.term(way.standing, worth)
    later = LaterTimetable(way.since, way.standing, proved=way.moved <= way.fewest)
    return loaded.term(way.until_then, worth, [later])


def _ways(
    term: TermPlan, loaded: LoadedTerm, kept: TermKept, stop_asked: Callable[[], bool]
) -> tuple[TimetableVersion | None, tuple[Changed, ...]]:
    """The timetable in force, and the ways to fit it to the weeks that are left."""
    found = None if term.afresh else standing_load(term.run, loaded)
    if found is None:
        return None, ()
    timetable, standing = found
    if kept.changed is None:
        kept.change(_changed(term, loaded, standing, stop_asked))
    return timetable, kept.changed or ()


def _changed(
    term: TermPlan, loaded: LoadedTerm, standing: StandingTimetable, stop_asked: Callable[[], bool]
) -> tuple[Changed, ...]:
    weeks = tuple(one.week for one in loaded.weeks)
    kinds = tuple(f"{one.kind.letter} {one.kind.turn}" for one in loaded.weeks)
    change = TimetableChange(weeks, kinds, standing, term.run.seed)
    effort = min(CHANGE_SECONDS, term.run.time_limit / 2)
    return ways_of(change, Way(term.way), effort=effort, time_limit=CLOCK_TIMES * effort, stop=stop_asked)


CHANGE_SECONDS = 20.0
"""Of work, for all ways to change a timetable in force; the dated weeks have their own."""

LOADED = 10
"""Percent of the bar that reading the weeks takes."""


@dataclass(slots=True)
class _Telling:
    """What the page shows of a term being planned."""

    report: Report
    time_limit: int
    began: float = field(default_factory=monotonic)
    tick: Callable[[], None] = lambda: None
    """Called with all news: what was found meanwhile is kept."""
    has_first: bool = False
    """Whether a whole term was found."""

    def line(self, message: str, percent: int) -> None:
        """One sentence; numbers and codes only."""
        elapsed = round(monotonic() - self.began, 1)
        self.report({"message": message, "technical": message, "percent": percent, "elapsed": elapsed})

    def searching(self, seconds: float, message: str, done: int, weeks: int) -> None:
        """What the planner says of itself while it searches; its own line is for the log."""
        logger.debug("%s", message)
        self.has_first = self.has_first or message == FIRST_TERM
        words = doing_words(message, done, weeks, has_first=self.has_first)
        self.line(words, LOADED + int((99 - LOADED) * min(1.0, seconds / self.time_limit)))
        self.tick()


# ---- after the work --------------------------------------------------------------------------------------


def term_plan_save(*, term: TermPlan, found: PlannedTerm) -> None:
    """Write standing timetable and drafts, in place of those that the run made before."""
    run = term.run
    with transaction.atomic():
        WeekPlan.objects.filter(plan_run=run, status=WeekPlan.Status.DRAFT).delete()
        for monday, content in found.contents.items():
            run_draft(run, monday, content)
        term.based_on = found.based_on
        before = [one for one in (term.standing, *term.later.all()) if one is not None]
        term.standing = standing_add(term, found.loaded.weeks, found.result.standing)
        term.summary = term_summary(found)
        term.save(update_fields=["standing", "based_on", "summary"])
        term.later.set(_later_add(term, found))
        for one in before:
            one.delete()
        run.summary = {
            "weeks": [monday.isoformat() for monday in found.contents],
            "notes": found.loaded.notes,
            "stopped": found.result.stopped,
        }
        run.kept = {}
        run.save(update_fields=["summary", "kept"])
        changes = {"weeks": [None, len(found.contents)]}
        audit_write(
            actor=run.requested_by, district=run.district, action="term_plan_save", row=term, changes=changes
        )


def _later_add(term: TermPlan, found: PlannedTerm) -> list[TimetableVersion]:
    """Drafts of the timetables that follow the first within the term."""
    weeks = found.loaded.weeks
    return [standing_add(term, weeks, one.standing, dt.date.fromisoformat(one.since)) for one in found.result.later]
