"""A question who serves whom: asked for with a job, worked through in the background, kept as proposals.

Nothing changes by it until a proposal is taken over (`assigning.services.taking_over`).
"""

import datetime as dt
from collections.abc import Collection, Mapping
from typing import Any

from django.db import transaction
from django.db.models import Model

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import audit_write, coordinator_require, district_of
from caseload.plans.models import SchoolClass, Student
from jobs.services import job_add, job_stop_ask
from schedule.assigning.asking import riders_with, services_moving, with_staying
from schedule.assigning.bundled import students_changing
from schedule.assigning.kept import question_kept, question_read, riders_kept, riders_read
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.assigning.selectors.loading import staffing_load
from schedule.assigning.selectors.standing import NEEDS_LEAVER, Question
from schedule.assigning.services.parts import TODAY, parts_stop, tasks_of
from schedule.planner.assign.question import Staffing
from travel.places.models import Building

KIND = "assign_students"
MOST_TEACHERS, MOST_BASES, MOST_MINUTES = 60, 12, 10
ASKED_BY = ("first_day", "last_day", "leaver_id", "moving_to_id", "share", "minutes")
"""What two runs have alike that were asked for the same, beside their teachers, students, bases and classes."""
TODAY_TITLE = "As today"
ATTEMPTS = 6
"""Workers that may be lost over a run; parts that are done stay."""


def assigning_start(
    *,
    actor: Person,
    question: str = Question.WHO,
    first_day: dt.date,
    teachers: Collection[Person],
    staying: Collection[Student] = (),
    leaver: Person | None = None,
    last_day: dt.date | None = None,
    bases: Collection[Building] = (),
    classes: Collection[SchoolClass] = (),
    moving_to: Building | None = None,
    share: int = 100,
    minutes: int = 3,
    now: dt.datetime | None = None,
) -> AssigningRun:
    """Ask for proposals from a day on; the job is added in the same transaction.

    Asking for the same again gives the run under way. ``minutes``: of search for all proposals. Raises
    ``ApplicationError`` with a remedy: 403 for anybody but a coordinator, ``two_teachers``, ``too_many_teachers``,
    ``first_day_over``, ``who_leaves``, ``until_when``, ``which_bases``, ``which_classes``, ``which_building``,
    ``nobody_moves``, ``search_minutes``, ``under_way`` where the question is looked at with other choices, or what
    keeps a teacher or building from being counted.
    """
    coordinator_require(actor)
    row = AssigningRun(
        district=district_of(actor), question=question, first_day=first_day, leaver=leaver,
        last_day=last_day if question == Question.AWAY else None, share=share, minutes=minutes, asked_by=actor,
        moving_to=moving_to if question == Question.MOVES else None,
    )  # fmt: skip
    chosen = {
        one.pk: one for one in [*teachers, *([leaver] if leaver else [])] if one.district_id == actor.district_id
    }
    _check(row, chosen, bases, today_of(actor, now))
    _check_move(row, classes)
    everybody = sorted(chosen.values(), key=str)
    loaded = staffing_load(row.district, everybody, first_day, actor, row.moving_to)
    row.asked = {
        "question": question_kept(with_staying(loaded.question, (str(one.pk) for one in staying))),
        "riders": riders_kept(loaded.riders),
        "monday": loaded.monday,
        "notes": list(loaded.notes),
    }
    if row.moving_to is not None:
        _ask_move(row, loaded.question, classes, row.moving_to)
    bases, classes = _asked_about(row, bases, classes)
    with transaction.atomic():
        payload: dict[str, Any] = {"first_day": first_day, "question": question}
        job = job_add(
            kind=KIND,
            payload=payload,
            district=actor.district_id,
            unique_key=f"{KIND}:{actor.district_id}:{question}",
            attempts_allowed=ATTEMPTS,
        )
        under_way = AssigningRun.objects.filter(job=job).first()
        if under_way is not None:
            many = {"teachers": everybody, "staying": staying, "bases": bases, "classes": classes}
            return _same_or_refuse(under_way, row, many)
        row.job = job
        row.full_clean()
        row.save()
        row.teachers.set(everybody)
        row.staying.set(staying)
        row.bases.set(bases)
        row.classes.set(classes)
        changes: dict[str, list[Any]] = {"question": [None, question], "first_day": [None, first_day.isoformat()]}
        audit_write(actor=actor, district=row.district, action="assigning_start", row=row, changes=changes)
    return row


def _check(row: AssigningRun, chosen: Mapping[int, Person], bases: Collection[Building], today: dt.date) -> None:
    asks_who_leaves, asks_post = row.question in NEEDS_LEAVER, row.question == Question.POST
    refusals = (
        (len(chosen) < 2, "two_teachers", "Choose at least two teachers of your district."),
        (len(chosen) > MOST_TEACHERS, "too_many_teachers", f"Choose at most {MOST_TEACHERS} teachers at once."),
        (row.first_day <= today, "first_day_over", "Choose a first day that is ahead."),
        (asks_who_leaves and row.leaver is None, "who_leaves", "Choose who leaves or is away."),
        (row.question == Question.AWAY and row.last_day is None, "until_when", "Give the last day of the absence."),
        (
            row.last_day is not None and row.last_day < row.first_day,
            "until_when",
            "The last day of the absence is before the first.",
        ),
        (
            asks_post and not 1 <= len(bases) <= MOST_BASES,
            "which_bases",
            f"Choose 1 to {MOST_BASES} buildings where the post might have its base.",
        ),
        (
            not 1 <= row.minutes <= MOST_MINUTES,
            "search_minutes",
            f"Give 1 to {MOST_MINUTES} minutes of search.",
        ),
        (not 1 <= row.share <= 100, "post_share", "Give 1 to 100 percent of a full post."),
    )
    for refused, code, message in refusals:
        if refused:
            raise ApplicationError(message, code=code)


def _asked_about(
    row: AssigningRun, bases: Collection[Building], classes: Collection[SchoolClass]
) -> tuple[Collection[Building], Collection[SchoolClass]]:
    """Of bases and classes only those that the question is about."""
    return (
        bases if row.question == Question.POST else [],
        classes if row.question == Question.MOVES else [],
    )


def _same_or_refuse(
    under_way: AssigningRun, asked: AssigningRun, many: Mapping[str, Collection[Model]]
) -> AssigningRun:
    """The run under way if it was asked for the same; nothing that was chosen is dropped without a word."""
    one_by_one = all(getattr(under_way, name) == getattr(asked, name) for name in ASKED_BY)
    if one_by_one and all({*getattr(under_way, name).all()} == {*rows} for name, rows in many.items()):
        return under_way
    raise ApplicationError(
        "Proposals for this question are being looked for right now, with other choices. Wait for them or stop "
        "them, then ask again.",
        code="under_way",
    )


def _check_move(row: AssigningRun, classes: Collection[SchoolClass]) -> None:
    if row.question != Question.MOVES:
        return
    if not classes:
        raise ApplicationError("Choose which classes move.", code="which_classes")
    if row.moving_to is None or all(one.building_id == row.moving_to.pk for one in classes):
        raise ApplicationError(
            "Choose the building where they move, another than they are in. A new one is entered under Buildings.",
            code="which_building",
        )


def _ask_move(row: AssigningRun, question: Staffing, classes: Collection[SchoolClass], goal: Building) -> None:
    """Keep which services move; those of groups with students of other classes are told and stay."""
    students = Student.objects.filter(home_class__in=classes, district=row.district).values_list("pk", flat=True)
    moving, some = services_moving(question, (str(pk) for pk in students))
    if not moving:
        raise ApplicationError(
            "None of these teachers serves a student of these classes by the class or alone. Choose other classes, "
            "or more teachers.",
            code="nobody_moves",
        )
    row.asked |= {"moving": list(moving), "moving_to": goal.code}
    if some:
        count = "1 group" if len(some) == 1 else f"{len(some)} groups"
        row.asked["notes"].append(f"{count} with students of other classes, too, counted where they are today.")


def assigning_stop(*, actor: Person, row: AssigningRun) -> AssigningRun:
    """Ask a run to end with the proposals that it has so far."""
    coordinator_require(actor)
    with transaction.atomic():
        job_stop_ask(job=row.job)
        parts_stop(row)
        audit_write(actor=actor, district=row.district, action="assigning_stop", row=row)
    row.refresh_from_db()
    return row


def assigning_of_job(job_id: str) -> AssigningRun | None:
    """The run that a job works on."""
    rows = AssigningRun.objects.select_related("district", "asked_by", "job", "leaver", "moving_to")
    return rows.filter(job_id=job_id).first()


# ---- the end ---------------------------------------------------------------------------------------------------


def assigning_save(*, row: AssigningRun, found: Mapping[str, Any]) -> list[AssigningProposal]:
    """Write the proposals, the best new post first; call it in the transaction that ends the job."""
    question, riders = question_read(row.asked["question"]), riders_read(row.asked["riders"])
    with transaction.atomic():
        row.proposals.all().delete()
        row.parts.all().delete()
        own = {one.student: who for who, several in riders.items() for one in several}
        made = [
            _proposal(row, 0, TODAY_TITLE, {"record": found[key], "riders": own, "changes": 0})
            for key in (TODAY,)
            if key in found
        ]
        tasks = [one for one in tasks_of(row, question) if one.key in found]
        if row.question == Question.POST:
            tasks.sort(key=lambda one: _unplaced_and_driving(found[one.key]))
        for number, task in enumerate(tasks, 1):
            record = found[task.key]
            with_whom = riders_with(riders, task.question, record["assignment"])
            changing = students_changing(task.question, riders, record["assignment"], with_whom)
            stands = {"record": record, "riders": with_whom, "changes": changing}
            made.append(_proposal(row, number, task.title, stands, task.base))
        row.kept = {}
        row.save(update_fields=["kept"])
        changes = {"proposals": [None, len(tasks)]}
        audit_write(actor=row.asked_by, district=row.district, action="assigning_save", row=row, changes=changes)
    return made


def _unplaced_and_driving(record: Mapping[str, Any]) -> tuple[int, int]:
    return record["figures"]["unplaced"], record["figures"]["driving"]


def _proposal(
    row: AssigningRun, position: int, title: str, stands: Mapping[str, Any], base: int | None = None
) -> AssigningProposal:
    made = AssigningProposal(run=row, position=position, title=title, base_id=base, found=stands, now=stands)
    made.full_clean()
    made.save()
    return made
