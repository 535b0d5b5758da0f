"""What a term says of the minutes of one service in one period. Pure."""

from dataclasses import dataclass

TERM = "the term"
"""The period of what is owed by the week, over all of its weeks."""


@dataclass(frozen=True, slots=True)
class LineMinutes:
    """One service in one period of the term: minutes, what is in reserve, and how it is likely to end.

    ``who``: the student's marked code, or the class; ``statement`` as the plan says it.
    ``reserve``: minutes that room is kept for, of ``reserve_wanted``. ``ends_short``: how likely it ends short of
    what is owed though that room is used. ``words``: where its sessions are and why; ``behind``: why it will be
    behind, empty where that isn't to be expected.
    """

    line: int
    period: str
    owed: int
    placed: int
    reserve_wanted: int
    reserve: int
    ends_short: float
    words: tuple[str, ...]
    behind: str
    who: str = ""
    statement: str = ""

    @property
    def by_week(self) -> bool:
        """Whether it owes by the week, so that the term decides only about its reserve."""
        return self.period == TERM
