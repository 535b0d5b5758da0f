"""Background work of the schedule floor (found by the jobs floor at start)."""

from collections.abc import Callable

from accounts.errors import ApplicationError
from accounts.models import District, Person
from jobs.context import JobContext
from jobs.errors import JobError
from jobs.registry import job_handler, regular_work
from schedule.assigning.services import parts as assigning_parts
from schedule.assigning.services import runs as assigning
from schedule.assigning.services.asked import proposal_step
from schedule.calendar.models import BusyCalendar, CalendarSource
from schedule.calendar.services import busy
from schedule.erasing.services import runs as erasing
from schedule.everybody import services as everybody
from schedule.happenings.services.logged import happenings_log_due
from schedule.imports.services import calendar_sources
from schedule.imports.services import work as import_work
from schedule.long_steps import services as long_steps
from schedule.long_steps.models import LongStep
from schedule.make_ups.services import together as make_ups
from schedule.next_year.services.asked import next_year_step
from schedule.next_year.services.starting import next_years_come
from schedule.notices.services import outbox, telling, watching
from schedule.overview import services as overview
from schedule.reports import services as reports
from schedule.terms.services import curve
from schedule.terms.services import plans as terms
from schedule.together import services as together
from schedule.weeks.models import PlanRun
from schedule.weeks.services import questions
from schedule.weeks.services.kept import PlannedWeeks, Write
from schedule.weeks.services.runs import KIND, plan_run_keep, plan_run_save, plan_run_work, run_of_job

LIST_GONE = "The list that this work belonged to was deleted."
RUN_GONE = "The run that this work belonged to was deleted."
TOGETHER_GONE = "The plan that this work belonged to was deleted."
TERM_GONE = "The term that was asked about was deleted."
ASSIGNING_GONE = "The question that this work belonged to was deleted."
TEACHER_GONE = "The teacher who was to be counted isn't there anymore."
STEP_GONE = "What this work was about was deleted."
QUESTION_GONE = "The week that was asked about was deleted."


def _work_out[Row, Found](
    context: JobContext,
    row: Row | None,
    *,
    gone: str = "",
    work: Callable[[Row], Found],
    save: Callable[[Row, Found], object],
) -> None:
    """Work out what a row asks for, and save it together with the job's end.

    Without the row the job fails with `gone`; what the work refuses it fails with in the refusal's own words.
    """
    if row is None:
        raise JobError(gone)
    try:
        found = work(row)
    except ApplicationError as error:
        raise JobError(error.message) from error
    with context.finishing():
        save(row, found)


def _keeping(context: JobContext, run: PlanRun) -> Write:
    """Keeps what a run has found so far, as the holder of the job's lease."""
    return lambda kept: context.keep(lambda: plan_run_keep(run=run, kept=kept))


@job_handler(KIND)
def plan_week(context: JobContext) -> None:
    """Plan the weeks of a run and save the drafts; after an interruption it goes on from what was kept.

    Where it is a teacher's turn in everybody's week, those who waited for it begin.
    """
    row = run_of_job(context.job_id)
    try:
        _work_out(
            context,
            row,
            gone=RUN_GONE,
            work=lambda run: plan_run_work(
                run=run,
                report=context.report,
                stop_asked=context.stop_asked,
                until_placed=context.payload.get("until_placed", False),
                unhurried=context.payload.get("unhurried", False),
                keep=_keeping(context, run),
            ),
            save=_save_weeks,
        )
    except JobError:
        everybody.everybody_run_ended(run=row)
        raise


def _save_weeks(run: PlanRun, found: PlannedWeeks) -> None:
    plan_run_save(run=run, found=found)
    everybody.everybody_run_ended(run=run)


@job_handler(terms.KIND)
def plan_term(context: JobContext) -> None:
    """Plan a term and save its timetable and drafts; after an interruption it goes on from what was kept."""
    _work_out(
        context,
        terms.term_of_job(context.job_id),
        gone=RUN_GONE,
        work=lambda term: terms.term_plan_work(
            term=term,
            report=context.report,
            stop_asked=context.stop_asked,
            keep=_keeping(context, term.run),
        ),
        save=lambda term, found: terms.term_plan_save(term=term, found=found),
    )


@job_handler(together.KIND)
def plan_several(context: JobContext) -> None:
    """Plan several teachers' weeks together and save a draft for each; a second run finds the same."""
    _work_out(
        context,
        together.together_plan_of_job(context.job_id),
        gone=TOGETHER_GONE,
        work=lambda row: together.together_plan_work(row=row, report=context.report, stop_asked=context.stop_asked),
        save=lambda row, found: together.together_plan_save(row=row, found=found),
    )


@job_handler(assigning.KIND)
def assign_students(context: JobContext) -> None:
    """Look for proposals who serves whom and save them; after an interruption it goes on from what was kept."""
    _work_out(
        context,
        assigning.assigning_of_job(context.job_id),
        gone=ASSIGNING_GONE,
        work=lambda row: assigning_parts.assigning_work(
            row=row, report=context.report, stop_asked=context.stop_asked, keep=context.keep
        ),
        save=lambda row, found: assigning.assigning_save(row=row, found=found),
    )


@job_handler(assigning_parts.PART)
def assign_part(context: JobContext) -> None:
    """Do one part of the search who serves whom; a second run finds the same."""
    _work_out(
        context,
        assigning_parts.part_of_job(context.job_id),
        gone=ASSIGNING_GONE,
        work=lambda part: assigning_parts.part_work(part=part, stop_asked=context.stop_asked),
        save=lambda part, found: assigning_parts.part_save(part=part, found=found),
    )


@job_handler(curve.KIND)
def term_curve(context: JobContext) -> None:
    """Work out what a term's timetable costs between routine and least driving; a second run finds the same."""
    _work_out(
        context,
        curve.curve_of_job(context.job_id),
        gone=TERM_GONE,
        work=lambda one: curve.term_curve_work(curve=one, report=context.report, stop_asked=context.stop_asked),
        save=lambda one, found: curve.term_curve_save(curve=one, found=found),
    )


@job_handler(make_ups.KIND)
def plan_make_ups(context: JobContext) -> None:
    """Place the open minutes of a teacher's students and save the drafts; it goes on from what was kept."""
    _work_out(
        context,
        run_of_job(context.job_id),
        gone=RUN_GONE,
        work=lambda run: make_ups.make_ups_work(
            run=run, report=context.report, stop_asked=context.stop_asked, keep=_keeping(context, run)
        ),
        save=lambda run, found: make_ups.make_ups_save(run=run, found=found),
    )


def _answer(context: JobContext) -> None:
    _work_out(
        context,
        questions.question_of_job(context.job_id),
        gone=QUESTION_GONE,
        work=lambda one: questions.question_work(
            question=one, report=context.report, stop_asked=context.stop_asked
        ),
        save=lambda one, found: questions.question_save(question=one, found=found),
    )


@job_handler("find_favours")
def find_favors(context: JobContext) -> None:
    """Price what could be asked for; a second run of the same job finds the same."""
    _answer(context)


@job_handler("weigh_changes")
def weigh_changes(context: JobContext) -> None:
    """Weigh driving against moved sessions; a second run of the same job finds the same."""
    _answer(context)


@job_handler(reports.KIND)
def make_district_report(context: JobContext) -> None:
    """Work a district's report out and keep it."""
    _work_out(
        context,
        context.job_id,
        work=lambda job_id: reports.district_report_make(job_id=job_id, report=context.report),
        save=lambda job_id, content: reports.district_report_save(job_id=job_id, content=content),
    )


@job_handler(overview.KIND)
def count_teacher(context: JobContext) -> None:
    """Count a teacher's minutes and what waits for the district's figures; a second run counts the same."""
    teacher = Person.objects.filter(pk=context.payload["teacher"]).select_related("district").first()
    _work_out(
        context,
        teacher,
        gone=TEACHER_GONE,
        work=lambda row: overview.teacher_count_work(teacher=row),
        save=lambda row, found: overview.teacher_count_save(teacher=row, found=found),
    )


@job_handler(erasing.KIND)
def erase_records(context: JobContext) -> None:
    """Erase what a confirmed list names; after an interruption it goes on with what isn't erased yet."""
    run = erasing.run_of_job(context.job_id)
    if run is None:
        raise JobError(LIST_GONE)
    erasing.erasure_work(run=run, keep=context.keep, report=context.report)
    with context.finishing():
        erasing.erasure_end(run=run)


STEPS: dict[str, Callable[[Person, LongStep, long_steps.Report], None]] = {
    LongStep.Kind.START_YEAR: next_year_step,
    LongStep.Kind.YEAR_BACK: next_year_step,
    LongStep.Kind.TAKE_OVER: proposal_step,
    LongStep.Kind.TAKE_OVER_BACK: proposal_step,
}
"""Which service does which step."""


@job_handler(long_steps.KIND)
def take_long_step(context: JobContext) -> None:
    """Do a step whole, in one transaction with the job's end; what refuses it is kept, and nothing else."""
    step = long_steps.step_of_job(context.job_id)
    if step is None:
        raise JobError(STEP_GONE)

    long_steps.step_work(
        row=step,
        act=STEPS[step.kind],
        note=context.note,
        stop_asked=context.stop_asked,
        finishing=context.finishing,
    )


@job_handler(busy.KIND)
def read_busy_calendar(context: JobContext) -> None:
    """Fetch a teacher's own calendar; what goes wrong is on the page of the calendar."""
    row = BusyCalendar.objects.filter(pk=context.payload["calendar"]).select_related("district").first()
    if row is not None:
        busy.busy_read(row=row)


@job_handler(calendar_sources.KIND)
def read_school_calendar(context: JobContext) -> None:
    """Fetch the district's school calendar; what goes wrong is on the page of the calendar."""
    row = CalendarSource.objects.filter(pk=context.payload["source"]).select_related("district", "keeper").first()
    if row is not None:
        calendar_sources.source_read(row=row)


@job_handler(import_work.CHECK)
def check_import(context: JobContext) -> None:
    """Check an import's rows; one that was discarded in the meantime needs nothing."""
    batch = import_work.batch_of_job(context.job_id)
    if batch is not None:
        import_work.import_check(batch=batch, progress=context.note, finishing=context.finishing)


@job_handler(import_work.SAVE)
def save_import(context: JobContext) -> None:
    """Check an import's rows again and save them, all or nothing."""
    batch = import_work.batch_of_job(context.job_id)
    if batch is not None:
        import_work.import_save_checked(batch=batch, progress=context.note, finishing=context.finishing)


@job_handler(watching.KIND)
def compare_days(context: JobContext) -> None:
    """Tell what changed of the next days in a district; a second run finds nothing left to tell."""
    district = District.objects.filter(pk=context.payload["district"]).first()
    if district is not None:
        telling.district_compare(district=district)


@job_handler(outbox.KIND)
def send_notice(context: JobContext) -> None:
    """Send a message that waits; what became of it is on the page of messages."""
    outbox.notice_send(notice_id=context.payload["notice"])


@regular_work("messages")
def ask_for_messages() -> None:
    """Have days compared that may have changed, tomorrow told in the evening, and messages sent that wait."""
    watching.compare_ask_due()
    telling.evenings_tell_due()
    outbox.notices_ask_due()


@regular_work("school calendars")
def ask_for_school_calendars() -> None:
    """Have addresses of school calendars read that weren't read within the hour."""
    calendar_sources.sources_ask_due()


@regular_work("figures of the district")
def count_teachers() -> None:
    """Have teachers counted who weren't today, or since something changed."""
    overview.counts_ask_due()


@regular_work("what happened")
def log_what_happened() -> None:
    """Log the sessions of days that have come and of which it was said before that they fall out."""
    happenings_log_due()


@regular_work("everybody's weeks")
def go_on_with_everybody() -> None:
    """Begin turns that waited for a run whose worker was lost."""
    everybody.everybody_go_on_due()


@regular_work("next year's classes")
def write_next_years_classes() -> None:
    """Write grades and teachers of classes on the first day of a year that was started before."""
    next_years_come()
