"""The figures of a progress report, from the ledger, the log and the goals' data."""

import datetime as dt
from dataclasses import replace

from django.db.models import Q

from accounts.models import Person
from caseload.delivery.rows import LedgerRow, LineLedger, StudentLedger
from caseload.delivery.words import statements_in_turn
from caseload.ledger.figures import ledger_since
from caseload.plans.models import Student, enrollment_nearest
from caseload.progress.measures import Wanted
from caseload.progress.models import StudentGoal
from caseload.progress.selectors.story import GoalStory, goal_story
from caseload.progress.trend import TooFew
from schedule.log.selectors.ledger import student_ledger
from schedule.telling.facts import (
    AttendanceFacts,
    Direction,
    GoalFacts,
    MinutesFacts,
    ReportFacts,
    present_level,
    reasons_counted,
)


def report_facts(viewer: Person, student: Student, first: dt.date, last: dt.date) -> ReportFacts:
    """All figures between two dates. Raises `ApplicationError` (404) for a student out of sight."""
    found = student_ledger(viewer, student, last)
    minutes, begins = _minutes(found, first)
    where = enrollment_nearest(found.student, last)
    return ReportFacts(
        full_name=found.student.full_name,
        first_name=found.student.first_name,
        school=str(where.building),
        grade=str(where.get_grade_display()),
        first=first,
        last=last,
        counted_from=min([first, *begins]),
        minutes=tuple(minutes),
        attendance=_attendance(found, first, last),
        goals=tuple(goal_facts(one) for one in report_stories(student, first, last)),
    )


def _minutes(found: StudentLedger, first: dt.date) -> tuple[list[MinutesFacts], list[dt.date]]:
    """Each service's figures of whole periods, and where these begin."""
    told, begins = [], []
    for one in found.lines:
        if one.ledger is None:
            continue
        since = ledger_since(one.ledger, first)
        figures = since.figures
        missed = sum(figures.missed.values())
        name = statements_in_turn(one.versions)
        row = MinutesFacts(name, figures.owed, figures.delivered, figures.made_up, missed, figures.behind)
        if row.owed or row.delivered or row.still_open:
            told.append(row)
            begins.append(since.first)
    return told, begins


def _attendance(found: StudentLedger, first: dt.date, last: dt.date) -> AttendanceFacts:
    planned = [row for one in found.lines for row in _rows(one) if _is_planned(row, first, last)]
    logged = [row for row in planned if row.record.delivered is not None]
    missed = [row for row in logged if not row.record.delivered]
    return AttendanceFacts(
        planned=len(logged),
        given=len(logged) - len(missed),
        reasons=reasons_counted(row.words for row in missed if row.words),
        unlogged=len(planned) - len(logged),
    )


def _is_planned(row: LedgerRow, first: dt.date, last: dt.date) -> bool:
    """Whether it was a session of its own between two dates, and no make-up."""
    record = row.record
    return first <= record.day <= last and record.minutes > 0 and not record.makes_up


def _rows(one: LineLedger) -> tuple[LedgerRow, ...]:
    return (*one.rows, *one.outside)


def report_stories(student: Student, first: dt.date, last: dt.date) -> list[GoalStory]:
    """The goals that hold on one of the dates, each with the data up to the last one."""
    running = Q(ended_on__isnull=True) | Q(ended_on__gte=first)
    goals = StudentGoal.objects.filter(running, student=student, start__lte=last, end__gte=first)
    rows = goals.select_related("student__district", "parent").order_by("position", "pk")
    return [_until(goal_story(goal, last), last) for goal in rows]


def _until(story: GoalStory, last: dt.date) -> GoalStory:
    """As it stood on a date: later data, changes and misses left out."""
    return replace(
        story,
        rows=tuple(one for one in story.rows if one.point.day <= last),
        phases=tuple(one for one in story.phases if one.day <= last),
    )


def goal_facts(story: GoalStory) -> GoalFacts:
    """A goal's figures and what its data say."""
    goal = story.goal
    facts = GoalFacts(goal.pk, goal.text, goal.parent_id is not None, goal.last_day)
    if not goal.measure:
        return facts
    return replace(
        facts,
        measure=goal.measure,
        trials=goal.trials,
        unit=goal.distance_unit,
        levels=goal.level_names,
        baseline=None if goal.baseline is None else float(goal.baseline),
        criterion=None if goal.criterion is None else float(goal.criterion),
        level=present_level((one.day, one.value) for one in story.seen),
        points=len(story.seen),
        last_seen=max((one.day for one in story.seen), default=None),
        direction=_direction(story),
        is_reached=story.met is not None,
        said=story.sentences,
    )


def _direction(story: GoalStory) -> Direction:
    """Where the trend goes, held against what the goal wants."""
    trend = story.trend
    if isinstance(trend, TooFew):
        return Direction.TOO_FEW
    if not trend.says_direction:
        return Direction.NEITHER
    rising = trend.slope > 0
    return Direction.TOWARD if rising == (story.goal.wanted == Wanted.MORE) else Direction.AWAY
