"""A planned term comes into force: all of it at once, or week by week; and is taken back in one press."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from schedule.calendar.words import week_words
from schedule.terms.models import TermPlan
from schedule.weeks.models import PlanRun, TimetableVersion, WeekPlan
from schedule.weeks.selectors.scope import teacher_require
from schedule.weeks.services.publishing import publishing
from schedule.weeks.services.runs import run_draft
from schedule.weeks.services.weeks import week_publish, week_restore
from schedule.weeks.versions.content import content_read

Status = WeekPlan.Status
NOT_PLANNED = "This term isn't planned yet. Wait until the plan is made, or plan it again."
NOT_IN_FORCE = "This timetable isn't in force, so there is nothing to take back."


@dataclass(frozen=True, slots=True)
class Published:
    """What came into force, and each week that didn't with the reason in a sentence."""

    weeks: int
    refused: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TermTakenBack:
    """How many weeks are as they were before the term, how many have none now, and how many had to stay."""

    restored: int
    emptied: int
    stayed: tuple[str, ...]


def term_publish(*, actor: Person, term: TermPlan, leave_out: bool = False) -> Published:
    """Put the standing timetable in force, and every draft of the term that can be.

    A draft that is refused (a student is elsewhere by now, a rule is broken) stays a draft and is told; the others
    are published. With ``leave_out``, sessions that other teachers' weeks in force rule out are left unplaced, and
    the rest of their weeks is published. Raises ``ApplicationError`` where nothing is planned, or every week is
    refused.
    """
    teacher_require(actor, term.run.teacher)
    with publishing(term.district):
        timetables = _timetables(term)
        refused: list[str] = []
        drafts = list(WeekPlan.objects.filter(plan_run=term.run, status=Status.DRAFT).order_by("monday"))
        for week in drafts:
            try:
                with transaction.atomic():
                    week_publish(actor=actor, week=week, expected_revision=week.revision, leave_out=leave_out)
            except ApplicationError as error:
                words = week_words(week.monday)
                refused.append(f"{words[:1].upper()}{words[1:]}: {error.message}")
        if drafts and len(refused) == len(drafts):
            raise ApplicationError(f"No week could be published. {refused[0]}", code="nothing_published")
        _put_in_force(actor, timetables)
        published = len(drafts) - len(refused)
        changes = {"weeks": [None, published]}
        audit_write(actor=actor, district=term.district, action="term_publish", row=term, changes=changes)
    return Published(published, tuple(refused))


def standing_publish(*, actor: Person, term: TermPlan) -> TimetableVersion:
    """Put the standing timetable in force alone: weeks are compared with it and can be published one by one."""
    teacher_require(actor, term.run.teacher)
    with publishing(term.district):
        timetables = _timetables(term)
        _put_in_force(actor, timetables)
        audit_write(actor=actor, district=term.district, action="standing_publish", row=term)
    return timetables[0]


def term_take_back(*, actor: Person, term: TermPlan, today: dt.date) -> TermTakenBack:
    """Take the standing timetable out of force, and its weeks that haven't begun.

    Such a week is again what it was before; where it was nothing, no week is in force then. What the term planned
    is a draft again. A week that has begun, or was changed since, stays as it is. Raises ``ApplicationError`` (code
    ``not_in_force``) where neither the timetable nor a week of it is in force.
    """
    teacher_require(actor, term.run.teacher)
    with publishing(term.district):
        timetables = _timetables(term)
        rows = WeekPlan.objects.filter(plan_run=term.run, status=Status.PUBLISHED).order_by("monday")
        weeks = list(rows)
        if not timetables[0].is_in_force and not weeks:
            raise ApplicationError(NOT_IN_FORCE, code="not_in_force")
        begun = [week for week in weeks if week.monday <= today]
        ahead = [week for week in weeks if week.monday > today]
        restored = sum(_taken_back(actor, term.run, week) for week in ahead)
        _out_of_force(actor, timetables)
        changes = {"weeks": [len(weeks), len(begun)]}
        audit_write(actor=actor, district=term.district, action="term_take_back", row=term, changes=changes)
    return TermTakenBack(restored, len(ahead) - restored, tuple(week_words(week.monday) for week in begun))


def _timetables(term: TermPlan) -> list[TimetableVersion]:
    """The standing timetable, and after it those that follow it within the term, in their order."""
    found = TimetableVersion.objects.filter(term=term).first()
    if found is None:
        raise ApplicationError(NOT_PLANNED, code="not_planned")
    return [found, *term.later.order_by("first_day", "pk")]


def _put_in_force(actor: Person, timetables: Iterable[TimetableVersion]) -> None:
    """Publish them, also again after they were taken back; one that is in force stays as it is.

    Those that follow within the term are published after the first: on their dates they hold.
    """
    for timetable in timetables:
        if not timetable.is_in_force:
            timetable.published_at, timetable.published_by = timezone.now(), actor
            timetable.taken_back_at = timetable.taken_back_by = None
            timetable.full_clean()
            timetable.save()


def _out_of_force(actor: Person, timetables: Iterable[TimetableVersion]) -> None:
    for timetable in timetables:
        if timetable.is_in_force:
            timetable.taken_back_at, timetable.taken_back_by = timezone.now(), actor
            timetable.full_clean()
            timetable.save()


def _taken_back(actor: Person, run: PlanRun, week: WeekPlan) -> bool:
    """Whether there was a version before, which is in force again; without one the week has none.

    What the term planned for it is a draft again.
    """
    content, before = content_read(week), _before(run, week)
    if before is None:
        _leave_empty(actor, week)
    else:
        again = week_restore(actor=actor, week=before)
        # What another term had planned is that term's week once more, and is taken back with it.
        WeekPlan.objects.filter(pk=again.pk).update(plan_run=before.plan_run)
    run_draft(run, week.monday, content)
    return before is not None


def _before(run: PlanRun, week: WeekPlan) -> WeekPlan | None:
    """What was in force before the term: neither a version of its own nor one of a term that was taken back."""
    earlier = WeekPlan.objects.filter(
        teacher=week.teacher, monday=week.monday, status=Status.REPLACED, version__lt=week.version or 0
    )
    others = earlier.exclude(plan_run=run).exclude(plan_run__term__standing__taken_back_at__isnull=False)
    return others.order_by("-version").first()


def _leave_empty(actor: Person, week: WeekPlan) -> None:
    """Take a week out of force that had no version before."""
    week.status = Status.REPLACED
    week.revision += 1
    week.save(update_fields=["status", "revision"])
    audit_write(
        actor=actor,
        district=week.district,
        action="week_take_back",
        row=week,
        changes={"status": [Status.PUBLISHED.value, Status.REPLACED.value]},
    )
