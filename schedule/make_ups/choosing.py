"""Which make-ups to place where: the most minutes, and of those plans the one with the least driving. Pure.

Options are places in which one make-up fits by itself. An integer problem chooses among them so that no piece is
given twice and nothing overlaps, moves between schools included; whether the options of a day go together, and what
they add to its driving, only the judge of the week can say. So the two take turns (logic-based Benders
decomposition: J. N. Hooker and G. Ottosson, Mathematical Programming 96 (2003), pages 33 to 60; from memory): what
the judge refuses is forbidden together from then on, and driving that it found is the least for every day that
holds as much. Both are right as long as one more session makes no refused day possible and no drive shorter. Solved
with HiGHS.

In this order: most minutes; of those, fewest after their date; least driving; the earliest days.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

import highspy
import numpy as np

EACH_SECONDS = 10.0
"""So long one integer problem may take; what is known then is a bound."""

HALF = 0.5

type Judge = Callable[[tuple[MakeUpOption, ...]], int | None]
"""Minutes of driving that options of one day, or of one week, add together; None where they don't go together."""

type Held = Sequence[tuple[int, MakeUpOption]]
type Row = tuple[float, float, Mapping[int, float]]


@dataclass(frozen=True, slots=True)
class MakeUpOption:
    """One place where a make-up fits by itself; minutes after midnight.

    `gives` are minutes by piece, each counted once for every student. `drive`: minutes at the wheel that it adds
    alone. `late`: minutes of it that come after their date. `apart`: lines that meet at most once a day.
    """

    day: dt.date
    start: int
    end: int
    place: str
    gives: tuple[tuple[int, int], ...]
    drive: int = 0
    late: int = 0
    apart: tuple[int, ...] = ()

    @property
    def minutes(self) -> int:
        """What it gives to all of its students together."""
        return sum(minutes for _, minutes in self.gives)


@dataclass(frozen=True, slots=True)
class Choice:
    """The options chosen, and how far better ones are ruled out: bounds on minutes and on driving."""

    options: tuple[MakeUpOption, ...]
    drive: int
    most_minutes: int
    least_drive: int

    @property
    def minutes(self) -> int:
        """What they give."""
        return sum(one.minutes for one in self.options)

    @property
    def late(self) -> int:
        """Minutes of it after their date."""
        return sum(one.late for one in self.options)

    @property
    def most_is_proved(self) -> bool:
        """Whether no choice gives more."""
        return self.minutes >= self.most_minutes

    @property
    def is_proved(self) -> bool:
        """Whether no choice gives more, and none that gives as much in time drives less."""
        return self.most_is_proved and self.drive <= self.least_drive


def choose(
    options: Sequence[MakeUpOption],
    wanted: Mapping[int, int],
    judge: Judge,
    moves: Mapping[tuple[str, str], int],
    enough: Callable[[], bool] = lambda: False,
) -> Choice:
    """Choose options so that each piece gets at most the minutes `wanted` of it.

    `moves` are the minutes from a session's end at one place to the next one's start at another. Once `enough` says
    so, the best choice that is known is given, with what is ruled out by then.
    """
    search = _Search(options, wanted, judge, moves, enough)
    minutes = -search.least({at: -float(one.minutes) for at, one in enumerate(options)})
    search.least({at: float(one.late) for at, one in enumerate(options)})
    drive = search.least({len(options) + at: 1.0 for at in range(len(search.days))})
    search.least({at: _how_late(one, search.days) for at, one in enumerate(options)})
    return Choice(search.best, search.drive_of(search.best), int(minutes + HALF), int(np.ceil(drive - HALF)))


def _how_late(one: MakeUpOption, days: Sequence[dt.date]) -> float:
    """Earlier days first, then earlier times; never nothing, so that no option is chosen for its own sake."""
    return (one.day - days[0]).days + one.start / (24 * 60) + 1


class _Search:
    """The integer problem so far: its rows, and the best choice that the judge accepted."""

    def __init__(
        self,
        options: Sequence[MakeUpOption],
        wanted: Mapping[int, int],
        judge: Judge,
        moves: Mapping[tuple[str, str], int],
        enough: Callable[[], bool],
    ) -> None:
        self.options = options
        self.days = sorted({one.day for one in options})
        self._judge = judge
        self._enough = enough
        self._known: dict[tuple[int, ...], int | None] = {}
        self._rows: list[Row] = [*_given_once(options, wanted), *_apart(options)]
        for day in self.days:
            self._rows += _one_at_a_time([(at, one) for at, one in enumerate(options) if one.day == day], moves)
        self._rows += [
            (0.0, highspy.kHighsInf, {self._drive_column(one.day): 1.0, at: -float(one.drive)})
            for at, one in enumerate(options)
            if one.drive > 0
        ]
        self._best = self._greedy(wanted)

    @property
    def best(self) -> tuple[MakeUpOption, ...]:
        """The best choice that is known."""
        return tuple(self.options[at] for at in sorted(self._best, key=self._moment))

    def _moment(self, at: int) -> tuple[dt.date, int]:
        return self.options[at].day, self.options[at].start

    def _drive_column(self, day: dt.date) -> int:
        return len(self.options) + self.days.index(day)

    # ---- the judge ---------------------------------------------------------------------------------------

    def _judged(self, chosen: Collection[int]) -> int | None:
        key = tuple(sorted(chosen))
        if key not in self._known:
            self._known[key] = self._judge(tuple(self.options[at] for at in key))
        return self._known[key]

    def _by_day(self, chosen: Iterable[int]) -> dict[dt.date, list[int]]:
        found: dict[dt.date, list[int]] = defaultdict(list)
        for at in chosen:
            found[self.options[at].day].append(at)
        return found

    def drive_of(self, chosen: Iterable[MakeUpOption]) -> int:
        """What options that go together add to the driving."""
        numbers = {one: at for at, one in enumerate(self.options)}
        days = self._by_day(numbers[one] for one in chosen)
        return sum(self._judged(day) or 0 for day in days.values())

    def _cuts(self, chosen: Collection[int], drives: Mapping[dt.date, float]) -> list[Row]:
        """Rows that a solution of the integer problem breaks: days refused, and driving that it took for less."""
        days = self._by_day(chosen)
        refused = [held for held in days.values() if self._judged(held) is None]
        if not refused:
            weeks = self._by_week(chosen)
            refused = [held for held in weeks.values() if self._judged(held) is None]
        found = [self._not_together(self._fewest_refused(held)) for held in refused]
        for day, held in days.items():
            drive = self._judged(held)
            if drive is not None and drive > drives[day] + HALF:
                entries = {self._drive_column(day): 1.0, **dict.fromkeys(held, -float(drive))}
                found.append((float(drive * (1 - len(held))), highspy.kHighsInf, entries))
        return found

    def _not_together(self, few: Sequence[int]) -> Row:
        return -highspy.kHighsInf, len(few) - 1.0, dict.fromkeys(few, 1.0)

    def _by_week(self, chosen: Iterable[int]) -> dict[dt.date, list[int]]:
        found: dict[dt.date, list[int]] = defaultdict(list)
        for at in chosen:
            day = self.options[at].day
            found[day - dt.timedelta(days=day.weekday())].append(at)
        return found

    def _fewest_refused(self, held: Sequence[int]) -> list[int]:
        """Some of the options of a refused day that are refused already, none of them needlessly."""
        left = list(held)
        for at in held:
            without = [one for one in left if one != at]
            if without and self._judged(without) is None:
                left = without
        return left

    # ---- solving -----------------------------------------------------------------------------------------

    def _greedy(self, wanted: Mapping[int, int]) -> frozenset[int]:
        """A choice to begin with: the cheapest option after the other, where the judge lets it in."""
        left, chosen = dict(wanted), list[int]()
        order = sorted(range(len(self.options)), key=lambda at: (self.options[at].drive, *self._moment(at)))
        for at in order:
            one = self.options[at]
            if self._enough():
                break
            if any(left[piece] < minutes for piece, minutes in one.gives) or not self._is_free(at, chosen):
                continue
            week = next(held for held in self._by_week([*chosen, at]).values() if at in held)
            if self._judged(week) is not None:
                chosen.append(at)
                left |= {piece: left[piece] - minutes for piece, minutes in one.gives}
        return frozenset(chosen)

    def _is_free(self, at: int, chosen: Iterable[int]) -> bool:
        one = self.options[at]
        same_day = [self.options[held] for held in chosen if self.options[held].day == one.day]
        return not any(
            (one.start < other.end and other.start < one.end) or set(one.apart) & set(other.apart)
            for other in same_day
        )

    def least(self, costs: Mapping[int, float]) -> float:
        """The least of a sum over columns; held from then on. A bound where time runs out before it is proved."""
        bound = -highspy.kHighsInf
        while not self._enough():
            solved = self._solved(costs)
            if solved is None:
                break
            chosen, drives, bound, proved = solved
            cuts = self._cuts(chosen, drives)
            if not cuts and proved:
                self._best = chosen
                self._hold(costs, self._value(costs, chosen))
                return bound
            if not cuts:
                break
            self._rows += cuts
        reached = self._value(costs, self._best)
        self._hold(costs, reached)
        return min(bound, reached) if np.isfinite(bound) else self._trivial(costs)

    def _trivial(self, costs: Mapping[int, float]) -> float:
        """What no choice can go below, without any search."""
        return sum(min(cost, 0.0) for cost in costs.values())

    def _hold(self, costs: Mapping[int, float], value: float) -> None:
        self._rows.append((-highspy.kHighsInf, value + 1e-6, costs))

    def _value(self, costs: Mapping[int, float], chosen: Collection[int]) -> float:
        """The sum of the costs of a choice that the judge accepted."""
        drives = {day: float(self._judged(held) or 0) for day, held in self._by_day(chosen).items()}
        values = {**dict.fromkeys(chosen, 1.0), **{self._drive_column(day): drive for day, drive in drives.items()}}
        return sum(cost * values.get(column, 0.0) for column, cost in costs.items())

    def _solved(
        self, costs: Mapping[int, float]
    ) -> tuple[frozenset[int], dict[dt.date, float], float, bool] | None:
        """The integer problem's answer: options, driving by day, its bound, and whether it is the optimum."""
        solver = highspy.Highs()  # type: ignore[no-untyped-call]  # its stubs leave it untyped
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("threads", 1)
        solver.setOptionValue("time_limit", EACH_SECONDS)
        solver.setOptionValue("mip_rel_gap", 0.0)
        count, none = len(self.options), np.array([], np.int32)
        for column in range(count + len(self.days)):
            high = 1.0 if column < count else highspy.kHighsInf
            solver.addCol(costs.get(column, 0.0), 0.0, high, 0, none, np.array([], np.float64))
            if column < count:
                solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
        for low, high, entries in self._rows:
            columns, values = np.array(list(entries), np.int32), np.array(list(entries.values()), np.float64)
            solver.addRow(low, high, len(entries), columns, values)
        solver.run()
        info, status = solver.getInfo(), solver.getModelStatus()
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        found = solver.getSolution().col_value
        chosen = frozenset(at for at in range(count) if found[at] > HALF)
        drives = {day: found[self._drive_column(day)] for day in self.days}
        return chosen, drives, info.mip_dual_bound, status == highspy.HighsModelStatus.kOptimal


# ---- rows ------------------------------------------------------------------------------------------------


def _given_once(options: Sequence[MakeUpOption], wanted: Mapping[int, int]) -> list[Row]:
    """Each piece gets at most its minutes."""
    entries: dict[int, dict[int, float]] = defaultdict(dict)
    for at, one in enumerate(options):
        for piece, minutes in one.gives:
            entries[piece][at] = float(minutes)
    return [(-highspy.kHighsInf, float(wanted[piece]), row) for piece, row in entries.items()]


def _apart(options: Sequence[MakeUpOption]) -> list[Row]:
    """Lines that keep their sessions apart meet at most once a day."""
    entries: dict[tuple[dt.date, int], dict[int, float]] = defaultdict(dict)
    for at, one in enumerate(options):
        for line in one.apart:
            entries[one.day, line][at] = 1.0
    return [(-highspy.kHighsInf, 1.0, row) for row in entries.values() if len(row) > 1]


def _one_at_a_time(held: Held, moves: Mapping[tuple[str, str], int]) -> list[Row]:
    """At each moment of a day one session at most, and time to move between two places."""
    by_place: dict[str, list[tuple[int, MakeUpOption]]] = defaultdict(list)
    for at, one in held:
        by_place[one.place].append((at, one))
    cliques = {_active(held, one.start) for _, one in held}
    for place, other in permutations(by_place, 2):
        cliques |= _too_near(by_place[place], by_place[other], moves.get((place, other), 0))
    return [(-highspy.kHighsInf, 1.0, dict.fromkeys(sorted(clique), 1.0)) for clique in cliques if len(clique) > 1]


def _too_near(here: Held, there: Held, move: int) -> set[frozenset[int]]:
    """Sessions here and there of which one leaves no time to come to the other; any two exclude each other."""
    ends, starts = {one.end for _, one in here}, {one.start for _, one in there}
    pairs = ((end, start) for end in ends for start in starts if end <= start < end + move)
    return {_active(here, end - 1) | _active(there, start) for end, start in pairs}


def _active(held: Held, minute: int) -> frozenset[int]:
    return frozenset(at for at, one in held if one.start <= minute < one.end)
