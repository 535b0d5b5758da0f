"""Placing many make-ups together, in the background.

Drafts come of it; nothing is in force until somebody publishes it.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from django.db import transaction

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from jobs.services import UNFINISHED, job_add
from schedule.make_ups.minutes import (
    Wanted,
    in_order_of_need,
    piece_lengths,
    pieces_to_place,
    too_few_words,
)
from schedule.make_ups.selectors.needs import MakeUpNeed
from schedule.make_ups.selectors.places import MakeUpPlace, MakeUpWeek
from schedule.make_ups.selectors.slots import MOST_WEEKS, avoided_days, open_week
from schedule.make_ups.selectors.which import Which, which_from_json
from schedule.make_ups.services.drafts import draft_new
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.load import district_of_teacher, monday_of
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.selectors.scope import teacher_require
from schedule.weeks.services.runs import KIND as PLANNING

KIND = "plan_make_ups"
ONE_DAY = dt.timedelta(days=1)
Status = WeekPlan.Status

NO_PLACE = "found no place."
WHY_NO_PLACE = "No other time in these weeks is open for the student, a space and the teacher at once."


def make_ups_plan(
    *, actor: Person, teacher: Person, today: dt.date, weeks: int = 4, which: Which | None = None
) -> PlanRun:
    """Ask for the open minutes of a teacher's students to be placed from tomorrow on, in the background.

    All of them, or `which`. Drafts come of it; nothing is in force until somebody publishes it. Pressing twice
    gives the run under way. Raises `ApplicationError`: ``nothing_open``, ``too_few``, ``run_under_way``, 404 for
    another's teacher.
    """
    teacher_require(actor, teacher)
    if not 1 <= weeks <= MOST_WEEKS:
        raise ApplicationError(f"Choose 1 to {MOST_WEEKS} weeks.", code="too_many_weeks")
    wanted = which or Which()
    needs = wanted.needs(actor, teacher, today)
    if not needs:
        raise ApplicationError("No minutes are waiting to be made up.", code="nothing_open")
    if all(one.too_few for one in needs):
        raise ApplicationError(too_few_words(max(one.minutes for one in needs)), code="too_few")
    first = today + ONE_DAY
    last = monday_of(first) + dt.timedelta(weeks=weeks, days=-1)
    with transaction.atomic():
        # One key with the planning of weeks: both make drafts of the same weeks.
        key = f"{PLANNING}:{teacher.pk}"
        under_way = PlanRun.objects.filter(job__unique_key=key, job__state__in=UNFINISHED).first()
        if under_way is not None:
            return _same_or_refuse(under_way)
        payload = {"teacher": teacher.pk, "first_date": first, "last_date": last, **wanted.as_json()}
        job = job_add(kind=KIND, payload=payload, unique_key=key)
        run = PlanRun(
            district=district_of_teacher(teacher),
            teacher=teacher,
            requested_by=actor,
            first_date=first,
            last_date=last,
            aim="",
            job=job,
        )
        run.full_clean(exclude=["summary"])
        run.save()
        audit_write(actor=actor, district=run.district, action="make_ups_plan", row=run)
    return run


def _same_or_refuse(run: PlanRun) -> PlanRun:
    if run.job.kind != KIND:
        raise ApplicationError(
            f"The weeks from {span_words(run.first_date, run.last_date)} are being planned right now. Wait "
            "for that, or "
            "stop it.",
            code="run_under_way",
        )
    return run


@dataclass(slots=True)
class PlacedMakeUps:
    """What a run has found: the weeks with make-ups added, and sentences about what found no place."""

    weeks: list[MakeUpWeek] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    placed: int = 0
    stopped: bool = False


@dataclass(slots=True)
class _Work:
    """A run at work: the needs, and what the page shows."""

    run: PlanRun
    report: Callable[[Mapping[str, Any]], None]
    needs: Mapping[int, MakeUpNeed]
    began: float = field(default_factory=monotonic)

    def say(self, message: str, done: int, of: int) -> None:
        """One line: numbers and codes only."""
        self.report(
            {
                "message": message,
                "percent": int(100 * done / max(of, 1)),
                "elapsed": round(monotonic() - self.began, 1),
            }
        )


def _few_words(needs: Iterable[MakeUpNeed]) -> list[str]:
    """Of whom too few minutes are open to be made up by themselves."""
    return [f"{one.student.marked_code}: {too_few_words(one.minutes)}" for one in needs if one.too_few]


def _notes_once(notes: list[str]) -> list[str]:
    """Each note once, and where something found no place, why that may be."""
    why = [WHY_NO_PLACE] if any(note.endswith(NO_PLACE) for note in notes) else []
    return list(dict.fromkeys([*notes, *why]))


def make_ups_work(
    *, run: PlanRun, report: Callable[[Mapping[str, Any]], None], stop_asked: Callable[[], bool]
) -> PlacedMakeUps:
    """Place what is open, the earliest due date first; each place is judged with those chosen before it.

    Writes nothing. A piece that fits nowhere whole is tried in halves, where the rules allow.
    """
    today = run.first_date - ONE_DAY
    which = which_from_json(run.job.payload)
    needs = {one.line.pk: one for one in which.needs(run.requested_by, run.teacher, today)}
    work = _Work(run, report, needs)
    found = PlacedMakeUps()
    wanted = in_order_of_need(one for need in needs.values() if not need.too_few for one in need.wanted())
    found.notes += _few_words(needs.values())
    found.weeks = _weeks(run, _lengths(wanted, needs), found.notes)
    for number, one in enumerate(wanted):
        if stop_asked():
            found.stopped = True
            break
        work.say(
            f"Looking for a make-up for {one.code}: {one.minutes} minutes, by {date_words(one.due)}.",
            number,
            len(wanted),
        )
        _place(work, found, one)
    found.notes = _notes_once(found.notes)
    work.say("1 make-up is placed." if found.placed == 1 else f"{found.placed} make-ups are placed.", 1, 1)
    return found


def _lengths(wanted: Sequence[Wanted], needs: Mapping[int, MakeUpNeed]) -> set[MakeUp]:
    """Every make-up that may be tried: pieces, and the halves of pieces."""
    found: set[MakeUp] = set()
    for one in wanted:
        usual = needs[one.line].usual
        for piece in pieces_to_place(one.minutes, usual):
            found |= {MakeUp((one.line,), length) for parts in _parts(piece, usual) for length in parts}
    return found


def _parts(piece: int, usual: int) -> list[tuple[int, ...]]:
    """A piece whole, and in halves where neither is too short."""
    half = -(-piece // 2)
    halves = piece_lengths(piece, usual)
    return [(piece,), (half, piece - half)] if half in halves and half < piece else [(piece,)]


def _weeks(run: PlanRun, pieces: set[MakeUp], notes: list[str]) -> list[MakeUpWeek]:
    monday = monday_of(run.first_date)
    count = (monday_of(run.last_date) - monday).days // 7 + 1
    weeks = (open_week(run.teacher, monday + dt.timedelta(weeks=n), pieces, notes) for n in range(count))
    return [week for week in weeks if week is not None]


def _place(work: _Work, found: PlacedMakeUps, wanted: Wanted) -> None:
    usual = work.needs[wanted.line].usual
    left = sum(_place_piece(work, found, wanted, piece) for piece in pieces_to_place(wanted.minutes, usual))
    if left:
        found.notes.append(f"{wanted.code}: {left} minutes due by {date_words(wanted.due)} {NO_PLACE}")


def _place_piece(work: _Work, found: PlacedMakeUps, wanted: Wanted, piece: int) -> int:
    """Minutes of the piece that found no place."""
    for parts in _parts(piece, work.needs[wanted.line].usual):
        missing = [part for part in parts if not _place_one(work, found, wanted, MakeUp((wanted.line,), part))]
        found.placed += len(parts) - len(missing)
        if len(missing) < len(parts):
            return sum(missing)
    return piece


def _place_one(work: _Work, found: PlacedMakeUps, wanted: Wanted, make_up: MakeUp) -> bool:
    need = work.needs[wanted.line]
    choices: list[tuple[tuple[Any, ...], MakeUpWeek, MakeUpPlace]] = []
    for week in found.weeks:
        for place in week.places(make_up, work.run.first_date, avoided_days(week, [need.line])):
            slot = place.slot
            late = slot.date > wanted.due
            choices.append(((late, slot.added_drive_minutes, slot.date, slot.start), week, place))
    if not choices:
        return False
    _, week, place = min(choices, key=lambda choice: choice[0])
    week.add(place.session)
    if place.slot.date > wanted.due:
        found.notes.append(
            f"{wanted.code}: a make-up on {date_words(place.slot.date)} is later than its date, "
            f"{date_words(wanted.due)}."
        )
    return True


def make_ups_save(*, run: PlanRun, found: PlacedMakeUps) -> list[WeekPlan]:
    """Write the weeks with make-ups as drafts, replacing those that the run made before; inside a transaction."""
    with transaction.atomic():
        WeekPlan.objects.filter(plan_run=run, status=Status.DRAFT).delete()
        changed = [week for week in found.weeks if week.added]
        drafts = [_draft(run, week) for week in changed]
        run.summary = {
            "weeks": [week.monday.isoformat() for week in changed],
            "notes": found.notes,
            "stopped": found.stopped,
            "make_ups": found.placed,
        }
        run.save(update_fields=["summary"])
        audit_write(
            actor=run.requested_by,
            district=run.district,
            action="make_ups_save",
            row=run,
            changes={"make_ups": [None, found.placed]},
        )
    return drafts


def _draft(run: PlanRun, week: MakeUpWeek) -> WeekPlan:
    draft = draft_new(run.requested_by, run.teacher, week.monday, week.content, run)
    if week.in_force:
        draft.based_on = week.row
        draft.save(update_fields=["based_on"])
    return draft
