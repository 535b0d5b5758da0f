"""Rows that share a cause as one thing that waits: the sentence that says it once, and what one press can do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from accounts.dates import date_words
from schedule.attention.causes import count_words, sessions_words
from schedule.attention.selectors.attention import Attention
from schedule.attention.selectors.rows import AttentionRow, Kind, minutes_words
from schedule.make_ups.minutes import OpenMinutes
from schedule.make_ups.selectors.which import Which


@dataclass(frozen=True, slots=True)
class SharedCause:
    """Rows of one kind with one cause, said once."""

    rows: tuple[AttentionRow, ...]

    @property
    def kind(self) -> Kind:
        """What sort of rows they are."""
        return self.rows[0].kind

    @property
    def cause(self) -> str:
        """By which it is found again."""
        return self.rows[0].cause

    @property
    def due(self) -> date:
        """The earliest date among them."""
        return min(row.due for row in self.rows)

    @property
    def minutes(self) -> int:
        """Minutes of all of them."""
        return sum(row.minutes for row in self.rows)

    @property
    def services(self) -> int:
        """How many services they are about."""
        return len(self.lines)

    @property
    def lines(self) -> tuple[int, ...]:
        """Ids of the service lines that they are about."""
        return tuple(sorted({row.line_id for row in self.rows if row.line_id is not None}))

    @property
    def plannable(self) -> bool:
        """Whether their minutes can be planned as make-ups by one press."""
        return self.kind is Kind.BEHIND or all(row.ahead for row in self.rows)

    @property
    def words(self) -> str:
        """The cause and how many it touches, in a sentence."""
        return _words(self)

    def which(self) -> Which:
        """Whose minutes a press plans."""
        if self.kind is Kind.BEHIND:
            return Which(self.lines)
        ahead: dict[int, tuple[OpenMinutes, ...]] = {}
        for row in self.rows:
            if row.line_id is not None:
                ahead[row.line_id] = (*ahead.get(row.line_id, ()), *row.ahead)
        return Which(self.lines, ahead)


def shared_causes(found: Attention) -> tuple[SharedCause, ...]:
    """What several rows share, the most urgent kind first and the largest of each kind first."""
    shared = [SharedCause(rows) for rows in found.parted.shared]
    return tuple(sorted(shared, key=lambda one: one.kind))


def _words(one: SharedCause) -> str:
    services = count_words(one.services, "service", "services")
    cause = f"{one.cause[:1].upper()}{one.cause[1:]}"
    match one.kind:
        case Kind.BEHIND:
            return (
                f"{cause}: {services}, {minutes_words(one.minutes)} to make up, the first by {date_words(one.due)}."
            )
        case Kind.SHORT if one.plannable:
            return f"{sessions_words(_sessions(one.rows))} short by {one.cause}: {services}."
        case Kind.SHORT if one.minutes:
            return f"{cause}: {services}, {minutes_words(one.minutes)} short."
        case Kind.SHORT:
            return f"{cause} at the past rate of missed sessions: {services}."
        case Kind.PLAN_ENDS | Kind.REVIEW:
            return f"{len(one.rows)} {one.cause}."
        case _:
            return f"{cause}: {services}."


def _sessions(rows: Sequence[AttentionRow]) -> list[int | None]:
    """How many usual sessions each service is short of; None for less than one."""
    return [row.minutes // row.usual or None for row in rows]
