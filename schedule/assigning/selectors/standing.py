"""A proposal as it stands, with the question that it answers."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.assigning.asking import NEW, BaseFacts, moved, with_post, without
from schedule.assigning.bundled import Movable, movables
from schedule.assigning.kept import question_read, riders_read
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.planner.assign.answer import Proposal
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.record import from_record
from travel.places.models import Building

Question = AssigningRun.Question
NEEDS_LEAVER = {Question.LEAVES, Question.AWAY}


@dataclass(frozen=True)
class ProposalStanding:
    """What a proposal's rows say, read once."""

    row: AssigningProposal

    @cached_property
    def question(self) -> Staffing:
        """With the new post, or without who leaves; today's as it is."""
        run, asked = self.row.run, question_read(self.row.run.asked["question"])
        return asked if self.row.is_today else question_changed(run, asked, self.row.base)

    @cached_property
    def riders(self) -> dict[str, tuple[BaseFacts, ...]]:
        """Students without minutes in the week, by their teacher of today."""
        return riders_read(self.row.run.asked["riders"])

    @cached_property
    def found(self) -> Proposal:
        """As the planner found it."""
        return from_record(self.row.found["record"])

    @cached_property
    def now(self) -> Proposal:
        """After what was changed by hand."""
        return from_record(self.row.now["record"])

    @property
    def riders_now(self) -> Mapping[str, str]:
        """With whom each of them goes, by student."""
        found: dict[str, str] = self.row.now["riders"]
        return found

    @cached_property
    def movables(self) -> dict[str, Movable]:
        """What can be moved, by key."""
        return movables(self.question, self.riders)

    @cached_property
    def why_nobody(self) -> list[str]:
        """Why by the rules nobody may have whom nobody has, each reason once; without one, room is short."""
        held = self.now.assignment
        lost = (one for one in bundles(self.question) if not any(service.id in held for service in one.services))
        return list(dict.fromkeys(one.why_nobody for one in lost if one.why_nobody))

    @property
    def is_of_a_move(self) -> bool:
        """Whether it holds only once classes have moved."""
        return self.row.run.question == Question.MOVES

    @property
    def has_new_post(self) -> bool:
        """Whether a post has part in it that nobody holds yet."""
        return self.question.has_teacher(NEW)


def question_changed(row: AssigningRun, question: Staffing, base: Building | None) -> Staffing:
    """The question that a run's proposals answer: today's without who leaves, with the new post or the move."""
    if row.question in NEEDS_LEAVER:
        return without(question, str(row.leaver_id))
    if row.question == Question.POST and base is not None:
        return with_post(question, base.code, new_post_name(base), row.share)
    if row.question == Question.MOVES:
        return moved(question, row.asked["moving"], row.asked["moving_to"])
    return question


def new_post_name(base: Building) -> str:
    """What a post at a base is called."""
    return f"New post at {base.name}"


def run_get(viewer: Person, pk: int) -> AssigningRun:
    """A run that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    rows = AssigningRun.objects.visible_to(viewer).select_related(
        "job", "district", "asked_by", "leaver", "moving_to"
    )
    row = rows.filter(pk=pk).first()
    if row is None:
        raise ApplicationError("There are no such proposals.", code="not_found", status=404)
    return row


def proposal_get(viewer: Person, pk: int) -> AssigningProposal:
    """A proposal that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    rows = AssigningProposal.objects.visible_to(viewer)
    row = (
        rows.select_related("run__district", "run__leaver", "run__moving_to", "base", "taken_by")
        .filter(pk=pk)
        .first()
    )
    if row is None:
        raise ApplicationError("There is no such proposal.", code="not_found", status=404)
    return row
