"""Runs of the planner: asked for with a job in one transaction, worked through week by week, saved as drafts.

The job's payload holds ids, dates and whether to search until all is placed. Every week is judged before it is
kept, and all drafts of a run are written in one transaction with the job's end, so that a job that is begun again
leaves one set of drafts. What was found before an interruption is kept with the run's row, and gone on from.
"""

import datetime as dt
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from accounts.validation import date_problem
from jobs.services import job_stop_ask
from schedule.calendar.words import week_words
from schedule.planner.check import check
from schedule.planner.result import Ended, Result
from schedule.planner.solve import solve
from schedule.weeks.aims import AIM_GOALS, OTHER, Aim, aimed_week, aims_json
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.load import (
    buildings_taught,
    check_one_clock,
    district_of_teacher,
    lines_of,
    load_teacher,
    load_week,
    monday_of,
)
from schedule.weeks.planning.others.drafts import Around
from schedule.weeks.planning.others.lunch_search import LunchSearch, week_with_lunches
from schedule.weeks.planning.outcome import content_of, sessions_of_plan
from schedule.weeks.planning.told import CLASHES, clashes_in, told_of
from schedule.weeks.selectors.scope import planning_as, teacher_require
from schedule.weeks.services.base import run_base
from schedule.weeks.services.beginning import RunAsked, run_begin
from schedule.weeks.services.content import content_write
from schedule.weeks.services.kept import AGAIN, DoneWeek, PlannedWeeks, RunKept, Write
from schedule.weeks.services.patience import Clock, clock_limit, cut_words, patience
from schedule.weeks.services.progress import Report, RunProgress
from schedule.weeks.services.rest import base_without_loss, published_of, rest_moment, sessions_to_stay
from schedule.weeks.services.with_drafts import drafts_notes, lines_apart, lines_despite, week_around
from schedule.weeks.versions.content import WeekContent
from schedule.weeks.versions.history import content_in_force

KIND = "plan_week"
LONGEST_RUN = 780
"""Seconds of search in one run: a job is cut off by ``JOBS_LONGEST_SECONDS``, and loading takes its part."""
LOADING = 5
LONGEST_SEARCH = LONGEST_RUN - LOADING - CLASHES
"""Seconds after which even a search that goes on until everything is placed ends."""
MOST_SECONDS = 300
LEAST_AGAIN = 1  # second of search, for a week that had used up its time when it was interrupted
TO_SUNDAY = dt.timedelta(days=6)


def plan_run_start(
    *,
    actor: Person,
    teacher: Person,
    first_date: dt.date,
    last_date: dt.date,
    seed: int = 1,
    time_limit: int = 20,
    keep_pins: bool = True,
    aim: Aim = Aim.USUAL_TIMES,
    until_placed: bool = False,
    rest: bool = False,
    now: dt.datetime | None = None,
) -> PlanRun:
    """Ask for the weeks between two dates to be planned; the job is added in the same transaction.

    ``time_limit`` is seconds of work a week, ended early by the clock (``patience``); ``aim`` what comes first, and
    the time that it leaves goes to the other choice, so that both are known. With ``until_placed``, for one week,
    those seconds begin once everything owed is placed, or proved to have no place; ``LONGEST_SEARCH`` ends it all
    the same. Pressing twice gives the run that is under way; one that could not be handed to a worker is sent
    again, or stopped if another is asked for. Raises ``ApplicationError`` with a remedy where rules, contract days,
    school days, services, bells or drive times are missing, or (code ``run_under_way``) where other dates of this
    teacher are being planned. Of a week in force that is under way ``now`` only the rest is planned, and of a
    later one where ``rest`` asks for that (``schedule.weeks.services.rest``).
    """
    teacher_require(actor, teacher)
    _check_dates(first_date, last_date, time_limit, until_placed=until_placed)
    first, first_time = rest_moment(teacher, first_date, last_date, now, ahead=rest) or (first_date, None)
    run = PlanRun(
        district=district_of_teacher(teacher),
        teacher=teacher,
        requested_by=actor,
        first_date=first,
        first_time=first_time,
        last_date=last_date,
        seed=seed,
        time_limit=time_limit,
        keep_pins=keep_pins,
        aim=aim,
    )
    _check_ready(run)
    asked = RunAsked(run, KIND, lambda other: _asked_of(other) == _asked_of(run), {"until_placed": until_placed})
    with transaction.atomic():
        begun = run_begin(asked)
        if begun is run:
            changes = {"dates": [None, f"{first_date} to {last_date}"], "aim": [None, aim.value]}
            audit_write(actor=actor, district=run.district, action="plan_run_start", row=run, changes=changes)
    return begun


def _asked_of(run: PlanRun) -> tuple[dt.date, dt.date, str]:
    """First and last date, and what comes first."""
    return run.first_date, run.last_date, run.aim


def plan_run_stop(*, actor: Person, run: PlanRun) -> PlanRun:
    """Ask a run to end with the best that it has so far."""
    teacher_require(actor, run.teacher)
    with transaction.atomic():
        job_stop_ask(job=run.job)
        audit_write(actor=actor, district=run.district, action="plan_run_stop", row=run)
    run.refresh_from_db()
    return run


# ---- before the work -------------------------------------------------------------------------------------


def _check_dates(first: dt.date, last: dt.date, time_limit: int, *, until_placed: bool) -> None:
    if problem := date_problem(first) or date_problem(last):
        raise ApplicationError(problem, code="bad_date")
    if last < first:
        raise ApplicationError(
            f"The last date, {date_words(last)}, is before the first, {date_words(first)}.", code="dates_swapped"
        )
    weeks = len(mondays_between(first, last))
    if not 1 <= time_limit <= MOST_SECONDS:
        raise ApplicationError(f"Give 1 to {MOST_SECONDS} seconds of search a week.", code="time_limit")
    if until_placed and weeks > 1:
        raise ApplicationError(
            f"These are {weeks} weeks. Search until everything is placed for one week at a time.", code="one_week"
        )
    if weeks * (time_limit + LOADING + CLASHES) > LONGEST_RUN:
        most = LONGEST_RUN // (time_limit + LOADING + CLASHES)
        raise ApplicationError(
            f"{weeks} weeks at {time_limit} seconds each are too many for one run. Choose at most {most} weeks, or "
            "fewer seconds a week.",
            code="too_many_weeks",
        )


def _check_ready(run: PlanRun) -> None:
    """Refuse at once what would fail later: at least one week must be plannable, the others say why not."""
    teacher, first, last = run.teacher, run.first_date, run.last_date
    load_teacher(teacher)
    check_one_clock(buildings_taught(lines_of(teacher, first, last), first, last), first)
    troubles: list[ApplicationError] = []
    for monday in mondays_between(first, last):
        try:
            base = run_base(run, monday, {}, content_in_force(teacher, monday))
            load_week(teacher, monday, replace(base, pins=()))
        except ApplicationError as error:
            if error.code not in SKIPPED:
                raise
            troubles.append(error)
        else:
            return
    raise troubles[0]


SKIPPED = frozenset({"no_school_days", "no_services", "no_school_year"})
"""What lets one week of several pass without a plan; the run's notes say so."""


def mondays_between(first: dt.date, last: dt.date) -> tuple[dt.date, ...]:
    """The Monday of every week that has one of the dates."""
    monday = monday_of(first)
    count = (monday_of(last) - monday).days // 7 + 1
    return tuple(monday + dt.timedelta(weeks=number) for number in range(count))


# ---- the work --------------------------------------------------------------------------------------------


def plan_run_work(
    *,
    run: PlanRun,
    report: Report,
    stop_asked: Callable[[], bool],
    until_placed: bool = False,
    unhurried: bool = False,
    keep: Write = lambda kept: True,
    clock: Clock = time.monotonic,
) -> PlannedWeeks:
    """Plan every week of a run in order, each one compared with those before it; writes only what ``keep`` writes.

    A stop ends the search of the week at hand with the best so far and leaves the later weeks out. What was kept
    before an interruption isn't planned again; the week that was at hand goes on from its best plan, with the
    seconds that it had left. What weeks leave of ``LONGEST_RUN`` on the clock is there for those after them.
    ``unhurried``: the clock leaves a week all that the run has, and a week that was at hand begins anew, so that
    neither many workers on few processors nor an interruption makes another week of it.
    """
    ends = clock() + LONGEST_RUN
    mondays = mondays_between(run.first_date, run.last_date)
    longest = LONGEST_SEARCH if until_placed else 0
    progress = RunProgress(report, mondays, time_limit=run.time_limit, placing_limit=longest)
    found, kept = PlannedWeeks(), RunKept(keep, **run.kept)
    progress.tick = kept.tick
    if unhurried:
        kept.at_hand = {}
    for number, monday in enumerate(mondays):
        progress.begin(number)
        if (done := kept.done(monday)) is not None:
            found.take(monday, done)
            continue
        if stop_asked():
            found.stopped = True
            break
        progress.say(f"Reading {week_words(monday)}.{AGAIN if run.kept else ''}")
        share = (ends - clock()) / (len(mondays) - number) - LOADING - CLASHES
        most = share if unhurried else clock_limit(run.time_limit, share)
        search = _Search(progress, stop_asked, kept, clock, most)
        week = _week_or_why_not(run, monday, found, search)
        kept.end(monday, week)
        found.take(monday, week)
    count = len(found.contents)
    progress.say("1 week is planned." if count == 1 else f"{count} weeks are planned.")
    return found


def run_week_load(
    run: PlanRun, monday: dt.date, planned: Mapping[dt.date, WeekContent], in_force: WeekContent | None
) -> WeekInput:
    """What the planner is asked for a week of a run, after those that are planned. Raises as `load_week` does."""
    return load_week(run.teacher, monday, run_base(run, monday, planned, in_force))


@dataclass(frozen=True, slots=True)
class _Search:
    """Whom a search tells of itself, who ends it, and what it had before an interruption."""

    progress: RunProgress
    stop_asked: Callable[[], bool]
    kept: RunKept
    clock: Clock
    most: float
    """Seconds after which the clock ends it, whatever it has done by then."""


def _week_or_why_not(run: PlanRun, monday: dt.date, found: PlannedWeeks, search: _Search) -> DoneWeek:
    try:
        return _plan_week(run, monday, found, search)
    except ApplicationError as error:
        if error.code not in SKIPPED:
            raise
        return DoneWeek(None, {}, (error.message,))


def _searched(run: PlanRun, monday: dt.date, loaded: WeekInput, search: _Search) -> Result:
    progress, kept = search.progress, search.kept
    had = kept.begin(monday)
    longest = progress.placing_limit and max(LEAST_AGAIN, progress.placing_limit - had)
    given = patience(search.stop_asked, longest, passed=search.clock)
    return solve(
        loaded.problem,
        seed=run.seed,
        effort=max(LEAST_AGAIN, run.time_limit - had),
        time_limit=max(LEAST_AGAIN, search.most - had),
        placing_limit=given.placing_limit,
        monotonic=given.clock,
        other=AIM_GOALS[OTHER[Aim(run.aim)]],
        progress=progress.searching,
        bounded=progress.bounded,
        stop=given.stop,
        begun=kept.plan(loaded.problem),
        found=kept.better,
    )


def _around_drafts(run: PlanRun, monday: dt.date, base: Base, search: _Search) -> tuple[WeekInput, Result]:
    """The week planned around others' drafts and by joint sessions; what has no place so is planned without."""
    week = week_around(run.teacher, monday, base)
    result = _searched(run, monday, week.loaded, search)
    lines = lines_despite(week, result)
    apart = lines_apart(week, result)
    if not lines and not apart:
        return week.loaded, result
    without = replace(base, around=Around(despite=lines), follow=replace(base.follow, apart=apart))
    again = week_around(run.teacher, monday, without)
    second = _searched(run, monday, again.loaded, search)
    return (again.loaded, second) if second.plan is not None else (week.loaded, result)


def _plan_week(run: PlanRun, monday: dt.date, found: PlannedWeeks, search: _Search) -> DoneWeek:
    in_force, aim, began = content_in_force(run.teacher, monday), Aim(run.aim), search.clock()
    base = run_base(run, monday, found.contents, in_force)
    loaded, result = _around_drafts(run, monday, base, search)
    if (other := base_without_loss(run.teacher, base, loaded, result.plan)) is not None:
        again, second = _around_drafts(run, monday, other, search)
        loaded, result = (again, second) if second.plan is not None else (loaded, result)
    looking = LunchSearch(
        run.seed,
        run.time_limit,
        AIM_GOALS[OTHER[aim]],
        lambda: search.most - (search.clock() - began),
        search.stop_asked,
    )
    result, lunches = week_with_lunches(run.teacher, monday, loaded, result, looking)
    if result.plan is None:
        return DoneWeek(None, {}, (f"Week of {date_words(monday)}: {result.message}",))
    verdict = check(loaded.problem, result.plan)
    if not verdict.holds:
        # A fault of the program: the plan is not kept, and the sentences (codes only) say which rule it broke.
        broken = " ".join(violation.text for violation in verdict.violations[:3])
        raise ApplicationError(
            f"The plan found for {week_words(monday)} breaks a rule and was not kept: {broken}", code="judge"
        )
    aims = aims_json(result, aim, in_force=in_force is not None)
    clashes = clashes_in(loaded, result, search.stop_asked)
    told = told_of(loaded, result, clashes, aimed_week(monday, aims))
    told = replace(told, notes=(*told.notes, *lunches))
    before = in_force if loaded.rest is None else loaded.rest.left
    content = content_of(loaded, sessions_of_plan(loaded, result.plan, before), result.plan, told)
    if loaded.rest is not None:
        stay = sessions_to_stay(run.teacher, loaded.rest.left, content.sessions)
        content = loaded.rest.joined(content, stay)
    cut = (cut_words(monday),) if result.ended is Ended.CLOCK else ()
    drafts = drafts_notes(run.teacher, monday, content)
    return DoneWeek(content, aims, (*cut, *loaded.drives.warnings, *drafts))


# ---- after the work --------------------------------------------------------------------------------------


def plan_run_keep(*, run: PlanRun, kept: Mapping[str, Any]) -> None:
    """Keep what a run has found so far; call it as the holder of the job's lease."""
    PlanRun.objects.filter(pk=run.pk).update(kept=kept)


def plan_run_save(*, run: PlanRun, found: PlannedWeeks) -> list[WeekPlan]:
    """Write the drafts of a run, replacing those that it made before; call it inside a transaction."""
    with transaction.atomic():
        WeekPlan.objects.filter(plan_run=run, status=WeekPlan.Status.DRAFT).delete()
        weeks = [run_draft(run, monday, content) for monday, content in found.contents.items()]
        run.summary = {
            "weeks": [monday.isoformat() for monday in found.contents],
            "aims": {monday.isoformat(): figures for monday, figures in found.aims.items()},
            "notes": found.notes,
            "stopped": found.stopped,
        }
        run.kept = {}
        run.save(update_fields=["summary", "kept"])
        audit_write(
            actor=run.requested_by,
            district=run.district,
            action="plan_run_save",
            row=run,
            changes={"weeks": [None, len(weeks)]},
        )
    return weeks


def run_draft(run: PlanRun, monday: dt.date, content: WeekContent) -> WeekPlan:
    """A draft of a week that a run planned; call it inside a transaction."""
    week = WeekPlan(
        district=run.district,
        teacher=run.teacher,
        monday=monday,
        last_date=monday + TO_SUNDAY,
        plan_run=run,
        based_on=published_of(run, monday),
        created_by=run.requested_by,
    )
    week.full_clean(exclude=["figures", "changes"])
    week.save()
    content_write(week, content)
    return week


def run_of_job(job_id: str) -> PlanRun | None:
    """The run that a job works on."""
    rows = PlanRun.objects.select_related("teacher", "district", "requested_by__district", "job")
    run = rows.filter(job_id=job_id).first()
    if run is not None:
        run.requested_by = planning_as(run.requested_by, run.teacher)
    return run
