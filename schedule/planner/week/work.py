"""How much a search has done, counted in steps and not by the clock.

A busy or slow machine does the same steps, only later: what is decided by work alone is decided alike everywhere.
Steps are weighed by what each of them takes on one core of an ordinary machine of 2026, so that a second of work is
about a second of its processor. Nothing that is found hangs on how near that comes, but whoever asks for some
seconds waits for as many: weighed again on November 29, 2026, by the processor time of each part over three weeks.
"""

from dataclasses import dataclass

UNITS_A_SECOND = 10**9

OPTION = 5_000
"""Looking whether a session fits one start: in the search for a week."""

ARC, LABEL, ROUTE = 200, 4_000, 30_000
"""Making a step of a day's graph, or going over it once; a label of a walk; a whole day of labels timed afresh."""

PIVOT, PIVOT_A_COLUMN, COLUMN = 50_000, 20, 15_000
"""An iteration of the simplex method, and more for each column it looks at; one more column."""

STATE, CIRCUIT_SECOND = 5_000, 1_500_000_000
"""A state of a day's tour; a second of the constraint solver's own measure of what it has done."""

LOOK, LOOK_A_COLUMN = 8_000_000, 5_000
"""Between two looks of the integer solver whether it should end (about one linear problem), and more a column."""


class HaltedError(Exception):
    """The time is up or a person stopped the search. Raised and caught inside the search only."""


@dataclass(slots=True)
class Work:
    """Units done so far. Whoever waits for threads adds what they did, so that their order doesn't matter."""

    done: int = 0

    def add(self, units: int) -> None:
        """Count some more."""
        self.done += units

    def add_pivots(self, iterations: int, columns: int) -> None:
        """Count a linear problem's iterations; one that had none was looked at once all the same."""
        self.add((PIVOT + PIVOT_A_COLUMN * columns) * max(1, iterations))

    @property
    def seconds(self) -> float:
        """The same in seconds of an ordinary core."""
        return self.done / UNITS_A_SECOND
