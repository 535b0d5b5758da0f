"""Placing many make-ups together, in the background.

Drafts come of it; nothing is in force until somebody publishes it.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from time import monotonic
from typing import Any

from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from schedule.make_ups.choosing import Choice, choose
from schedule.make_ups.minutes import too_few_words
from schedule.make_ups.selectors.needs import MakeUpNeed
from schedule.make_ups.selectors.options import Offer, Piece, make_ups_tried, pieces_of, placed_options, places_of
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.make_ups.selectors.slots import MOST_WEEKS, open_week
from schedule.make_ups.selectors.which import Which, which_from_json
from schedule.make_ups.services.drafts import draft_new
from schedule.make_ups.services.kept import MakeUpsKept
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.load import district_of_teacher, monday_of
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.selectors.scope import teacher_require
from schedule.weeks.services.beginning import RunAsked, run_begin
from schedule.weeks.services.kept import AGAIN, Write

KIND = "plan_make_ups"
ONE_DAY = dt.timedelta(days=1)
Status = WeekPlan.Status

NO_PLACE = "found no place."
SEARCH_SECONDS = 60.0
"""So long the best choice is looked for once every place is known; then the best so far, with its bounds."""

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
    run = PlanRun(
        district=district_of_teacher(teacher),
        teacher=teacher,
        requested_by=actor,
        first_date=first,
        last_date=last,
        aim="",
    )
    asked = RunAsked(run, KIND, lambda other: which_from_json(other.job.payload) == wanted, wanted.as_json())
    with transaction.atomic():
        begun = run_begin(asked)
        if begun is run:
            audit_write(actor=actor, district=run.district, action="make_ups_plan", row=run)
    return begun


@dataclass(slots=True)
class PlacedMakeUps:
    """What a run has found: the weeks with make-ups added, and sentences about them and what found no place.

    `minutes` are given to all students together, `most_minutes` is what no choice goes above, `is_proved` says
    whether no other choice is better.
    """

    weeks: list[MakeUpWeek] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    placed: int = 0
    stopped: bool = False
    minutes: int = 0
    most_minutes: int = 0
    is_proved: bool = True


@dataclass(slots=True)
class _Work:
    """A run at work: what the page shows, and whether to go on."""

    pieces: Sequence[Piece]
    report: Callable[[Mapping[str, Any]], None]
    stop_asked: Callable[[], bool]
    began: float = field(default_factory=monotonic)
    stopped: bool = False
    goes_on: bool = False
    """Whether something was kept before an interruption."""

    def say(self, message: str, percent: int) -> None:
        """One line: numbers and codes only."""
        self.report({"message": message, "percent": percent, "elapsed": round(monotonic() - self.began, 1)})

    def look(self, offer: Offer, number: int, of: int) -> bool:
        """Say what is looked for; no, once somebody asked to stop."""
        piece = self.pieces[offer.gives[0][0]]
        again = AGAIN if number == 0 and self.goes_on else ""
        who = piece.code if len(offer.gives) == 1 else f"a group of {len(offer.gives)}"
        self.say(
            f"Looking for places for {who}: {offer.make_up.minutes} minutes.{again}", 80 * number // max(of, 1)
        )
        self.stopped = self.stopped or self.stop_asked()
        return not self.stopped

    def enough(self) -> Callable[[], bool]:
        """Whether to end the search: asked to, or its time is over."""
        until = monotonic() + SEARCH_SECONDS

        def ended() -> bool:
            self.stopped = self.stopped or self.stop_asked()
            return self.stopped or monotonic() > until

        return ended


def make_ups_work(
    *,
    run: PlanRun,
    report: Callable[[Mapping[str, Any]], None],
    stop_asked: Callable[[], bool],
    keep: Write = lambda kept: True,
) -> PlacedMakeUps:
    """Place the most minutes of what is open, and then with the least driving (`schedule.make_ups.choosing`).

    Writes only what `keep` writes; what was kept before an interruption isn't looked for again. A piece that fits
    nowhere whole is tried in halves, where the rules allow.
    """
    needs = which_from_json(run.job.payload).needs(run.requested_by, run.teacher, run.first_date - ONE_DAY)
    pieces = pieces_of(needs)
    work = _Work(pieces, report, stop_asked, goes_on=bool(run.kept))
    found = PlacedMakeUps(notes=_few_words(needs))
    found.weeks = _weeks(run, make_ups_tried(pieces), found.notes)
    kept = MakeUpsKept.of(keep, pieces, run.kept)
    look = kept.looking(found.weeks, partial(places_of, found.weeks, pieces, run.first_date))
    options = placed_options(found.weeks, pieces, look, work.look)
    work.say(f"Choosing among {len(options.places)} places.", 80)
    wanted = {number: piece.one.minutes for number, piece in enumerate(pieces)}
    choice = choose(list(options.places), wanted, options.judge, options.moves(), work.enough())
    for option in choice.options:
        week, session = options.places[option]
        week.add(session)
    found.placed, found.stopped = len(choice.options), work.stopped
    found.minutes, found.most_minutes, found.is_proved = choice.minutes, choice.most_minutes, choice.is_proved
    found.notes = _notes_once([*choice_notes(choice, wanted), *found.notes, *_left_notes(pieces, choice)])
    work.say("1 make-up is placed." if found.placed == 1 else f"{found.placed} make-ups are placed.", 100)
    return found


def _weeks(run: PlanRun, make_ups: set[MakeUp], notes: list[str]) -> list[MakeUpWeek]:
    monday = monday_of(run.first_date)
    count = (monday_of(run.last_date) - monday).days // 7 + 1
    weeks = (open_week(run.teacher, monday + dt.timedelta(weeks=n), make_ups, notes) for n in range(count))
    return [week for week in weeks if week is not None]


def choice_notes(choice: Choice, wanted: Mapping[int, int]) -> list[str]:
    """How much is placed, how much driving it adds, and what is proved of both."""
    total, found = sum(wanted.values()), list[str]()
    adds = f"{'It adds' if len(choice.options) == 1 else 'They add'} {choice.drive} minutes of driving"
    if choice.minutes == total:
        found.append(f"All {total} minutes have a place.")
    elif choice.most_is_proved:
        found.append(f"{choice.minutes} of {total} minutes have a place; it is proved that no plan places more.")
    else:
        found.append(
            f"{choice.minutes} of {total} minutes have a place; no plan places more than {choice.most_minutes}."
        )
    if choice.is_proved:
        found.append(f"{adds}; it is proved that no plan that places as much in time adds less.")
    elif choice.most_is_proved:
        found.append(f"{adds}; no plan that places as much in time adds less than {choice.least_drive}.")
    return found if total else []


def _left_notes(pieces: Sequence[Piece], choice: Choice) -> Iterator[str]:
    """What found no place, and what comes after its date."""
    for number, piece in enumerate(pieces):
        given = [(one, minutes) for one in choice.options for at, minutes in one.gives if at == number]
        left = piece.one.minutes - sum(minutes for _, minutes in given)
        due = date_words(piece.one.due)
        if left:
            yield f"{piece.code}: {left} minutes due by {due} {NO_PLACE}"
        for one, _ in given:
            if one.day > piece.one.due:
                yield f"{piece.code}: a make-up on {date_words(one.day)} is later than its date, {due}."


def _few_words(needs: Iterable[MakeUpNeed]) -> list[str]:
    """Of whom too few minutes are open to be made up by themselves."""
    return [f"{one.student.marked_code}: {too_few_words(one.minutes)}" for one in needs if one.too_few]


def _notes_once(notes: list[str]) -> list[str]:
    """Each note once, and where something found no place, why that may be."""
    why = [WHY_NO_PLACE] if any(note.endswith(NO_PLACE) for note in notes) else []
    return list(dict.fromkeys([*notes, *why]))


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
            "minutes": found.minutes,
            "most_minutes": found.most_minutes,
            "is_proved": found.is_proved,
        }
        run.kept = {}
        run.save(update_fields=["summary", "kept"])
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
