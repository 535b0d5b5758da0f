"""The search for proposals in parts, each with a job of its own, so that all workers there are have their share.

The run's own job adds the parts of a round, works on them as any other worker does, and puts together what they
came to once all have ended. Which parts there are, their work and the order in which they are put together is fixed
beforehand (``schedule.planner.assign.spread``), so the number of workers decides when a run is over and not what it
finds. What a part found is kept until the run ends; a part whose worker was lost is taken by another one.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jobs.errors import GoOnLaterError
from jobs.models import Job
from jobs.runner import run_job
from jobs.services import job_add, job_start_again, job_stop_ask, jobs_sweep
from schedule.assigning.asking import today_of_services
from schedule.assigning.kept import question_read
from schedule.assigning.models import AssigningPart, AssigningRun
from schedule.assigning.selectors.standing import Question, new_post_name, question_changed
from schedule.planner.assign.answer import Favoring, Proposal
from schedule.planner.assign.propose import USUAL
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.record import as_record, from_record, part_as_record, part_from_record
from schedule.planner.assign.spread import (
    LAST,
    PieceFound,
    SearchPiece,
    WantedProposal,
    counted,
    counted_together,
    merged,
    pieces_counting,
    pieces_of,
    searched,
)

PART = "assign_part"
A_MINUTE = 60.0
"""Seconds of work in a minute of search."""
AT_ONCE = 8
"""Parts of one run that wait or are worked on at a time: what others ask for isn't kept waiting by all of them."""
LOOK_AGAIN = 0.25
"""Seconds between two looks at parts that other workers have."""
A_TURN = 60.0
"""Seconds by the clock after which the run's job is given back, to be gone on with by whoever takes it."""
TODAY, MOVED, ROUND = "today", "moved", "round"
MOVED_TITLE = "Moved, with today's teachers"
TITLES = {
    Favoring.DRIVING: "Least driving",
    Favoring.CHANGES: "Fewest students change teacher",
    Favoring.EVEN: "Load as even as it gets",
}
MESSAGES = {
    0: "Counting who serves whom today",
    1: "Looking over the whole district",
    LAST: "Planning each teacher's week once more",
}

type Report = Callable[[Mapping[str, Any]], None]
type Keep = Callable[[Callable[[], object]], object]
type StopAsked = Callable[[], bool]
type Kept = dict[str, Any]


class PartBrokeError(Exception):
    """A part of a run met an error in the program, or lost all its workers."""


@dataclass(frozen=True, slots=True)
class Task:
    """One proposal to look for: in which question, what it is called, what it favors, a new post's base."""

    key: str
    title: str
    favoring: Favoring
    question: Staffing
    base: int | None = None


def tasks_of(row: AssigningRun, question: Staffing) -> Iterator[Task]:
    """The proposals that a run looks for; a new post is looked for at each base with least driving."""
    if row.question != Question.POST:
        changed = question_changed(row, question, None)
        if row.question == Question.MOVES:
            yield Task(MOVED, MOVED_TITLE, Favoring.CHANGES, changed)
        for one in USUAL:
            yield Task(one.value, TITLES[one], one, changed)
        return
    for base in row.bases.order_by("name", "pk"):
        yield Task(
            f"base-{base.pk}", new_post_name(base), Favoring.DRIVING, question_changed(row, question, base), base.pk
        )


@dataclass(frozen=True)
class QuestionInParts:
    """A run's question, read once, with what was kept of its answer."""

    row: AssigningRun
    question: Staffing
    tasks: tuple[Task, ...]
    kept: Kept

    @property
    def counted(self) -> dict[str, Staffing]:
        """Questions whose teachers' weeks of today are counted, by key."""
        moved = {one.key: one.question for one in self.tasks if one.key == MOVED}
        return {TODAY: self.question, **moved}

    @property
    def wanted(self) -> list[WantedProposal]:
        """The proposals that are searched for, beside what was counted."""
        # Whoever has the same services as today drives another way to those that move.
        known = (from_record(self.kept[MOVED if MOVED in self.counted else TODAY]),)
        searched_for = [one for one in self.tasks if one.key != MOVED]
        effort = A_MINUTE * self.row.minutes / len(searched_for)
        return [WantedProposal(one.key, one.question, one.favoring, effort, beside=known) for one in searched_for]

    def pieces(self, number: int) -> tuple[SearchPiece, ...]:
        """All of a round."""
        if number:
            return pieces_of(number, self.wanted)
        return tuple(piece for key, one in self.counted.items() for piece in pieces_counting(key, one))

    def now(self) -> dict[str, Proposal]:
        """The proposals as the rounds before left them."""
        if not self.kept.get(ROUND):
            return {}
        return {one.key: from_record(self.kept[one.key]) for one in self.wanted if one.key in self.kept}

    def question_of(self, key: str) -> Staffing:
        """In which question a proposal is looked for."""
        return {**{one.key: one.question for one in self.tasks}, TODAY: self.question}[key]


def asked_of(row: AssigningRun) -> QuestionInParts:
    """A run's question, read."""
    question = question_read(row.asked["question"])
    return QuestionInParts(row, question, tuple(tasks_of(row, question)), dict(row.kept))


# ---- the run --------------------------------------------------------------------------------------------------


def assigning_work(*, row: AssigningRun, report: Report, stop_asked: StopAsked, keep: Keep) -> Kept:
    """Look for all proposals, round by round; whoever has the job after an interruption goes on from what is kept.

    Raises ``GoOnLaterError`` when the job's turn is over, ``PartBrokeError`` where a part can't be had.
    """
    rounds = _Rounds(asked_of(row), report, stop_asked, keep, time.monotonic() + A_TURN)
    for part in row.parts.filter(job__state=Job.State.FAILED).select_related("job"):
        job_start_again(job=part.job)
    if not rounds.asked.counted.keys() <= rounds.asked.kept.keys():
        rounds.count()
    for number in range(rounds.asked.kept.get(ROUND, 0) + 1, LAST + 1):
        if TODAY in rounds.asked.kept and not stop_asked():
            rounds.search(number)
    return rounds.asked.kept


@dataclass(frozen=True)
class _Rounds:
    asked: QuestionInParts
    report: Report
    stop_asked: StopAsked
    keep: Keep
    ends: float

    def count(self) -> None:
        """Round 0."""
        pieces = self.asked.pieces(0)
        self._work(0, pieces)
        found = self._found(0)
        if len(found) < len(pieces):
            return
        for key, question in self.asked.counted.items():
            own = [found[piece.key] for piece in pieces if piece.wanted == key]
            self.asked.kept[key] = as_record(counted_together(question, today_of_services(question), own))
        self._keep()

    def search(self, number: int) -> None:
        """Any other round."""
        self._work(number, self.asked.pieces(number))
        every: dict[str, list[PieceFound]] = {one.key: [] for one in self.asked.wanted}
        for before in range(1, number + 1):
            found = self._found(before)
            for piece in self.asked.pieces(before):
                every[piece.wanted].extend([found[piece.key]] if piece.key in found else [])
        now, wanted = self.asked.now(), self.asked.wanted
        for one in wanted:
            if every[one.key]:
                best = merged(one, wanted, every, now, is_last=number == LAST)
                self.asked.kept[one.key] = as_record(best)
        self.asked.kept[ROUND] = number
        self._keep()

    def _keep(self) -> None:
        row = self.asked.row
        row.kept = dict(self.asked.kept)
        self.keep(lambda: row.save(update_fields=["kept"]))

    def _found(self, number: int) -> dict[str, PieceFound]:
        rows = self.asked.row.parts.filter(round=number).exclude(found={})
        return {one.key: _read(self.asked.question_of(one.wanted), one.found) for one in rows}

    def _work(self, number: int, pieces: Sequence[SearchPiece]) -> None:
        """Have all of them worked on, by this worker, too, and wait for those that others have."""
        while True:
            parts = list(self.asked.row.parts.filter(round=number).select_related("job").order_by("place"))
            left = [one for one in parts if not one.job.is_over]
            if any(one.job.state == Job.State.FAILED for one in parts):
                raise PartBrokeError
            is_stopping = self.stop_asked()
            if is_stopping:
                _stop(left)
            elif len(left) < AT_ONCE and len(parts) < len(pieces):
                self.keep(lambda: self._add(pieces, len(parts), AT_ONCE - len(left)))  # noqa: B023 -- called at once
                continue
            if not left:
                return
            self._tell(number, len(parts) - len(left), len(pieces))
            self._one_more(left, is_stopping=is_stopping)

    def _add(self, pieces: Sequence[SearchPiece], begun: int, more: int) -> None:
        """Add the next parts, with their jobs."""
        row = self.asked.row
        for place, piece in enumerate(pieces[begun : begun + more], begun):
            key = f"{PART}:{row.pk}:{piece.key}"
            job = job_add(kind=PART, payload={"run": row.pk, "key": piece.key}, unique_key=key)
            row.parts.create(
                round=piece.round, place=place, key=piece.key, wanted=piece.wanted, teacher=piece.teacher, job=job
            )

    def _one_more(self, left: Iterable[AssigningPart], *, is_stopping: bool) -> None:
        """Do one that waits, or look after those that others have."""
        if not is_stopping and time.monotonic() > self.ends:
            raise GoOnLaterError
        waiting = [one.job_id for one in left if one.job.state == Job.State.WAITING]
        if not any(run_job(job_id) for job_id in waiting):
            jobs_sweep()
            time.sleep(LOOK_AGAIN)

    def _tell(self, number: int, done: int, of: int) -> None:
        around = f"Looking around each teacher, turn {number - 1}"
        words = MESSAGES.get(number, around)
        self.report({"message": f"{words}: {done} of {of} done."})


def parts_stop(row: AssigningRun) -> None:
    """Ask all parts of a run that aren't over to stop."""
    _stop(one for one in row.parts.select_related("job") if not one.job.is_over)


def _stop(parts: Iterable[AssigningPart]) -> None:
    for one in parts:
        if not one.job.stop_asked:
            job_stop_ask(job=one.job)


# ---- a part ---------------------------------------------------------------------------------------------------


def part_of_job(job_id: str) -> AssigningPart | None:
    """The part that a job works on."""
    return AssigningPart.objects.filter(job_id=job_id).select_related("run__leaver", "run__moving_to").first()


def part_work(*, part: AssigningPart, stop_asked: StopAsked) -> PieceFound:
    """Do one part; done twice it comes to the same."""
    asked, piece = asked_of(part.run), SearchPiece(part.round, part.wanted, part.teacher)
    if piece.round == 0:
        question = asked.question_of(piece.wanted)
        return counted(question, today_of_services(question), piece.teacher)
    [wanted] = [one for one in asked.wanted if one.key == piece.wanted]
    return searched(wanted, piece, asked.now().get(wanted.key) if piece.round > 1 else None, stop_asked)


def part_save(*, part: AssigningPart, found: PieceFound) -> None:
    """Keep what a part found; call it in the transaction that ends its job."""
    part.found = {
        "given": [dict(one) for one in found.given],
        "loads": [part_as_record(one) for one in found.loads],
        "work": found.work,
    }
    part.save(update_fields=["found"])


def _read(question: Staffing, found: Mapping[str, Any]) -> PieceFound:
    loads = tuple(part_from_record(question, one) for one in found["loads"])
    return PieceFound(tuple(found["given"]), loads, found["work"])
