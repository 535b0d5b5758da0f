"""What stands on the page of the first hour. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

MOST_NAMED = 5
"""So many schools or teachers are named; the others are counted."""


class StepState(StrEnum):
    """How far a step is: there, partly there, nothing of it yet, or waiting for one before it."""

    DONE = "done"
    PARTLY = "partly"
    OPEN = "open"
    LATER = "later"


@dataclass(frozen=True, slots=True)
class StepWay:
    """One way to do a step: what a button says, and where it leads."""

    words: str
    address: str


@dataclass(frozen=True, slots=True)
class SetUpStep:
    """One thing that is set up. `found` says what of it is there, `missing` what isn't."""

    key: str
    name: str
    why: str
    state: StepState
    found: str
    missing: str
    ways: tuple[StepWay, ...]

    @property
    def waits(self) -> bool:
        """Whether it isn't all there."""
        return self.state is not StepState.DONE


@dataclass(frozen=True, slots=True)
class SetUp:
    """The steps in their order."""

    steps: tuple[SetUpStep, ...]

    @property
    def next(self) -> SetUpStep | None:
        """The first that isn't done and waits for none before it."""
        return next((one for one in self.steps if one.state in {StepState.OPEN, StepState.PARTLY}), None)

    @property
    def done(self) -> int:
        """How many are."""
        return sum(not one.waits for one in self.steps)


def named(names: Sequence[str]) -> str:
    """The first names of a list, and how many more there are: "Larkmoor, Tansy and 3 more"."""
    shown = list(names[:MOST_NAMED])
    more = len(names) - len(shown)
    if more:
        return f"{', '.join(shown)} and {more} more"
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}" if shown else ""


def state_of(there: int, missing: int, *, ready: bool = True) -> StepState:
    """How far a step is, of which so many are there and so many are known to be missing.

    Not `ready`: something before it has to be there first.
    """
    if not ready:
        return StepState.LATER
    if not there:
        return StepState.OPEN
    return StepState.PARTLY if missing else StepState.DONE
