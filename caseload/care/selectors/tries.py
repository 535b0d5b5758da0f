"""Reads of what is tried with a student who came before the plan did."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from accounts.models import Person
from caseload.care.models import Contact, Support, Try
from caseload.care.selectors.written import contacts_of
from caseload.care.trying import SUGGESTIONS, Tried, question_to_team
from caseload.plans.models import Student

_SUPPORT_KINDS = {Try.Kind.ASK: Support.Kind.COMMUNICATION, Try.Kind.STEPS: Support.Kind.CUE}


def support_kind_of(row: Try) -> str:
    """Under which kind a support that is made of a try stands."""
    return _SUPPORT_KINDS.get(Try.Kind(row.kind), Support.Kind.OTHER).value


def tried_of(row: Try) -> Tried:
    """A try as the pure rules take it."""
    return Tried(
        row.get_kind_display(), row.text, row.get_outcome_display(), row.seen, row.seen_on, row.outcome != "not_yet"
    )


@dataclass(frozen=True, slots=True)
class TryGroup:
    """What is to be found out, what is on the list for it, and what could be added."""

    kind: str
    label: str
    rows: Sequence[Try]
    suggestions: Sequence[str]


@dataclass(frozen=True, slots=True)
class TriesShown:
    """The page: groups, whether anything helped, the question to the team, whom to send it to, and its letter.

    `mail`: an address that opens a letter in the person's own mail program. It has the student's initials only.
    """

    groups: Sequence[TryGroup]
    helped: int
    provisional: int
    question: str
    to: Sequence[Contact]
    mail: str


def tries_shown(viewer: Person, student: Student, called: str) -> TriesShown:
    """What the viewer sees of what is tried with a student, who is `called` so in letters."""
    rows = list(student.tries.select_related("seen_by", "support"))
    question = question_to_team(called, [tried_of(row) for row in rows], viewer.get_full_name() or str(viewer))
    to = [one for one in contacts_of(viewer, student) if one.email and one.role != Contact.Role.PARENT]
    query = urlencode({"subject": f"Question about {called}", "body": question}, quote_via=quote)
    return TriesShown(
        [_group(kind, label, rows) for kind, label in Try.Kind.choices],
        sum(row.helped for row in rows),
        Support.objects.filter(tries__student=student, is_provisional=True).distinct().count(),
        question,
        to,
        f"mailto:{','.join(quote(one.email) for one in to)}?{query}",
    )


def _group(kind: str, label: object, rows: Sequence[Try]) -> TryGroup:
    own = [row for row in rows if row.kind == kind]
    there = {row.text.casefold() for row in own}
    return TryGroup(kind, str(label), own, [one for one in SUGGESTIONS[kind] if one.casefold() not in there])
