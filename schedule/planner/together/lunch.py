"""Lunch with colleagues: whose lunches a week is led to, and what that costs.

Lunch is had together where two have it from the same minute in the same place. That is a wish: it never costs a
minute that is owed, a lunch, or what the week's goals put before driving. Each lunch with a colleague is worth some
minutes at the wheel, which are taken off the driving; so of all weeks the one is sought that has least of what is
left. Whoever lunches is led there by a lunch that has its minute and place fixed.

Searched by branch and bound over the days: each is given one of its lunches or none. A week with the lunches that
are given, less what the open ones could be worth at most, bounds all weeks of the branch.
"""

import heapq
import itertools
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from schedule.planner.problem import Day, Goal, Problem
from schedule.planner.result import ItemKind, Itinerary, Result, Status

MOST_ASKED = 16
NEVER = 10**9
"""More than any figure of a week that there is."""

type Figures = tuple[int, ...]
type Spot = tuple[int, str]
"""From which minute, and in which place."""


@dataclass(frozen=True, slots=True)
class LunchOffer:
    """A colleague's lunch on a day; ``worth``: minutes at the wheel that lunch with that colleague may cost."""

    who: str
    day: str
    at: int
    place: str
    worth: int


@dataclass(frozen=True, slots=True)
class LunchChoice:
    """A lunch that one may be led to on a day, with whom, and what it is worth."""

    day: str
    at: int
    place: str
    whom: tuple[str, ...]
    worth: int


class LunchCost(StrEnum):
    """What lunch with somebody would have cost that no lunch may."""

    NO_WEEK = "no_week"
    UNPLACED = "unplaced"
    WISHES = "wishes"
    CHANGE = "change"
    DRIVING = "driving"
    NOT_LOOKED = "not_looked"


@dataclass(frozen=True, slots=True)
class LunchRefused:
    """A lunch that isn't had, what it would have cost, and how much of that."""

    choice: LunchChoice
    cost: LunchCost
    amount: int = 0


@dataclass(frozen=True, slots=True)
class LunchWeek:
    """A week with the lunches that it is led to. ``proved``: none is worth more, by goals and worth.

    ``added_drive``: minutes at the wheel more than in the week without regard to lunch.
    """

    result: Result
    had: tuple[LunchChoice, ...]
    refused: tuple[LunchRefused, ...]
    added_drive: int
    proved: bool


def lunch_spots(plan: Itinerary) -> dict[str, Spot]:
    """When and where each day has its lunch; days without one, or where its place is open, are left out."""
    return {
        day.day: (item.start, item.place)
        for day in plan.days
        for item in day.of_kind(ItemKind.LUNCH)
        if item.place is not None
    }


def choices_of(problem: Problem, offers: Iterable[LunchOffer]) -> dict[str, tuple[LunchChoice, ...]]:
    """By day, the lunches that a week may be led to: those worth most first. A day may have none at all."""
    found: dict[str, dict[Spot, list[LunchOffer]]] = defaultdict(lambda: defaultdict(list))
    for one in offers:
        if problem.has_day(one.day) and lunch_fits(problem, problem.day(one.day), one.at, one.place):
            found[one.day][one.at, one.place].append(one)
    return {
        day: tuple(
            sorted(
                (
                    LunchChoice(day, at, place, tuple(one.who for one in whom), sum(one.worth for one in whom))
                    for (at, place), whom in spots.items()
                ),
                key=lambda one: (-one.worth, one.at, one.place),
            )
        )
        for day, spots in found.items()
    }


def lunch_fits(problem: Problem, day: Day, at: int, place: str) -> bool:
    """Whether a day's lunch may begin at a minute, as far as its window, the contract and the places say."""
    lunch = day.lunch
    if lunch is None or not problem.has_place(place):
        return False
    latest = min(lunch.latest_end, day.end) - lunch.minutes
    return max(lunch.earliest, day.start) <= at <= latest


def with_lunch_at(problem: Problem, spots: Mapping[str, Spot]) -> Problem:
    """The problem with the lunch of these days at these minutes and places."""
    return replace(problem, days=tuple(_led(day, spots.get(day.id)) for day in problem.days))


def _led(day: Day, spot: Spot | None) -> Day:
    if day.lunch is None or spot is None:
        return day
    at, place = spot
    lunch = replace(day.lunch, earliest=at, latest_end=at + day.lunch.minutes, place=place)
    return replace(day, lunch=lunch)


# ---- branch and bound ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LunchAnswer[P]:
    """Weeks with some lunches given: figures by goal, a true bound of them, and what their lunches are worth.

    ``driving``: the number of driving among the goals.
    """

    value: Figures
    bound: Figures
    worth: int
    driving: int
    weeks: P

    @property
    def net(self) -> Figures:
        """The figures with what lunches are worth taken off the driving."""
        return _less(self.value, self.driving, self.worth)


@dataclass(frozen=True, slots=True)
class BestLunches[P]:
    """The best answer met, no answer's net figures being below ``bound``, and how many weeks were asked for."""

    best: LunchAnswer[P]
    bound: Figures
    asked: int


def _less(figures: Figures, at: int, worth: int) -> Figures:
    return (*figures[:at], figures[at] - worth, *figures[at + 1 :])


@dataclass(frozen=True, slots=True)
class _Branch[C: Hashable, P]:
    """Lunches given in the slots up to ``at``, their worth, and the weeks with them."""

    given: frozenset[C]
    worth: int
    at: int
    answer: LunchAnswer[P]


def best_lunches[C: Hashable, P](
    slots: Sequence[Sequence[tuple[C, int]]],
    root: LunchAnswer[P],
    ask: Callable[[frozenset[C]], LunchAnswer[P] | None],
    most: int = MOST_ASKED,
    late: Callable[[], bool] = lambda: False,
) -> BestLunches[P]:
    """Choose one lunch of each slot or none; each choice comes with its worth, the one worth most first.

    ``root`` answers with none given, ``ask`` with some; ``None`` where there are no such weeks. No more than
    ``most`` are asked for, and none once it is ``late``.
    """
    tree = _Tree(slots, root, ask, most)
    tree.ask_for_all(late)
    tree.grow(late)
    return BestLunches(tree.best, tree.bound(), tree.asked)


class _Tree[C: Hashable, P]:
    """The branches that are open, and the best answer met."""

    def __init__(
        self,
        slots: Sequence[Sequence[tuple[C, int]]],
        root: LunchAnswer[P],
        ask: Callable[[frozenset[C]], LunchAnswer[P] | None],
        most: int,
    ) -> None:
        self.slots, self.ask, self.most = slots, ask, most
        self.left = [sum(slot[0][1] for slot in slots[at:]) for at in range(len(slots) + 1)]
        self.best, self.asked = root, 0
        self.numbers = itertools.count()
        self.waiting: list[tuple[Figures, int, _Branch[C, P]]] = []
        self.ended: list[Figures] = []
        self._open(_Branch(frozenset[C](), 0, 0, root), ())

    def _open(self, branch: _Branch[C, P], least: Figures) -> None:
        """Wait with a branch, whose weeks are bounded by its own answer and by its parent's."""
        worth = branch.worth + self.left[branch.at]
        bound = max(least, _less(branch.answer.bound, branch.answer.driving, worth))
        heapq.heappush(self.waiting, (bound, next(self.numbers), branch))

    def ask_for_all(self, late: Callable[[], bool]) -> None:
        """Where several are open, all at once may cost nothing: then nothing else needs to be asked."""
        if len(self.slots) > 1 and self.most > 1 and not late():
            self.asked += 1
            self.best = _better(self.best, self.ask(frozenset(slot[0][0] for slot in self.slots)))

    def grow(self, late: Callable[[], bool]) -> None:
        """The branch with the least bound first, as long as one could be better than the best."""
        while self.waiting and self.waiting[0][0] < self.best.net and not late():
            bound, _, branch = self.waiting[0]
            if branch.at < len(self.slots) and self.asked + len(self.slots[branch.at]) > self.most:
                return
            heapq.heappop(self.waiting)
            if branch.at == len(self.slots):
                self.ended.append(bound)
            else:
                self._split(branch, bound)

    def _split(self, branch: _Branch[C, P], bound: Figures) -> None:
        """By what the next slot is given, or none of it."""
        for choice, worth in self.slots[branch.at]:
            self.asked += 1
            given = branch.given | {choice}
            found = self.ask(given)
            if found is not None:
                self.best = _better(self.best, found)
                self._open(_Branch(given, branch.worth + worth, branch.at + 1, found), bound)
        self._open(replace(branch, at=branch.at + 1), bound)

    def bound(self) -> Figures:
        """What no answer's net figures are below."""
        return min([self.best.net, *self.ended, *(one[0] for one in self.waiting[:1])])


def _better[P](best: LunchAnswer[P], other: LunchAnswer[P] | None) -> LunchAnswer[P]:
    return other if other is not None and other.net < best.net else best


# ---- one week beside others' lunches ----------------------------------------------------------------------------

type AskWeek = Callable[[Problem], Result]
"""Plans a week in which some lunches are given."""


def lunch_week(
    problem: Problem,
    base: Result,
    offers: Iterable[LunchOffer],
    ask: AskWeek,
    *,
    most: int = MOST_ASKED,
    late: Callable[[], bool] = lambda: False,
) -> LunchWeek:
    """The week led to colleagues' lunches as far as they are worth it; ``base``: the same without that."""
    by_day = choices_of(problem, offers)
    goals = goals_beside(problem)
    root = answer_of(base, goals, by_day) if Goal.DRIVING in goals else None
    if root is None or not by_day or base.plan is None:
        return LunchWeek(base, (), (), 0, proved=not by_day)
    asked = _Asked(problem, goals, by_day, ask)
    found = best_lunches(_slots(by_day), root, asked.given, most, late)
    had = _had(found.best.weeks, by_day)
    refused = tuple(asked.why_not(one, had, found.best, late) for one in _without(by_day, had))
    driving = found.best.value[root.driving] - root.value[root.driving]
    return LunchWeek(found.best.weeks, had, refused, driving, found.best.net == found.bound)


def _slots(by_day: Mapping[str, Sequence[LunchChoice]]) -> list[list[tuple[LunchChoice, int]]]:
    """The days in order, each with its choices and their worth."""
    return [[(one, one.worth) for one in by_day[day]] for day in sorted(by_day)]


def _without(by_day: Mapping[str, Sequence[LunchChoice]], had: tuple[LunchChoice, ...]) -> list[LunchChoice]:
    """Of each day on which none is had, the one worth most."""
    days = {one.day for one in had}
    return [by_day[day][0] for day in sorted(by_day) if day not in days]


@dataclass(slots=True)
class _Asked:
    """Weeks of one problem by the lunches that are given, each planned once."""

    problem: Problem
    goals: tuple[Goal, ...]
    by_day: Mapping[str, Sequence[LunchChoice]]
    ask: AskWeek
    known: dict[frozenset[LunchChoice], Result] = field(default_factory=dict)

    def given(self, chosen: frozenset[LunchChoice]) -> LunchAnswer[Result] | None:
        """The week with these."""
        if chosen not in self.known:
            spots = {one.day: (one.at, one.place) for one in chosen}
            self.known[chosen] = self.ask(with_lunch_at(self.problem, spots))
        return answer_of(self.known[chosen], self.goals, self.by_day)

    def why_not(
        self,
        choice: LunchChoice,
        had: tuple[LunchChoice, ...],
        best: LunchAnswer[Result],
        late: Callable[[], bool],
    ) -> LunchRefused:
        """What one more lunch would cost beside those that are had."""
        chosen = frozenset((*had, choice))
        if chosen not in self.known and late():
            return LunchRefused(choice, LunchCost.NOT_LOOKED)
        return _why_not(choice, best, self.given(chosen))


def goals_beside(problem: Problem) -> tuple[Goal, ...]:
    """The goals that a lunch is weighed in: all but sameness."""
    return tuple(goal for goal in problem.goals if goal is not Goal.SAMENESS)


def answer_of(
    result: Result, goals: tuple[Goal, ...], by_day: Mapping[str, Sequence[LunchChoice]]
) -> LunchAnswer[Result] | None:
    """A planned week as an answer; ``None`` where it is proved that there is none.

    Where none was found, anything may be true of it: it is worse than all and bounded by nothing.
    """
    driving = goals.index(Goal.DRIVING)
    if result.plan is None or result.figures is None:
        nothing = LunchAnswer((NEVER,) * len(goals), (0,) * len(goals), 0, driving, result)
        return nothing if result.status is Status.UNKNOWN else None
    worth = sum(one.worth for one in _had(result, by_day))
    return LunchAnswer(result.figures.in_order(goals), bound_of_week(result, goals), worth, driving, result)


def bound_of_week(result: Result, goals: tuple[Goal, ...]) -> Figures:
    """What is known of each goal: up to the first that isn't proved, nothing after it."""
    found: list[int] = []
    is_known = True
    for stage in result.stages[: len(goals)]:
        found.append(stage.bound if is_known else 0)
        is_known = is_known and stage.status is Status.OPTIMAL
    return (*found, *(0 for _ in goals[len(found) :]))


def _had(result: Result, by_day: Mapping[str, Sequence[LunchChoice]]) -> tuple[LunchChoice, ...]:
    spots = {} if result.plan is None else lunch_spots(result.plan)
    return tuple(one for day in sorted(by_day) for one in by_day[day] if spots.get(day) == (one.at, one.place))


def _why_not(
    choice: LunchChoice,
    best: LunchAnswer[Result],
    other: LunchAnswer[Result] | None,
) -> LunchRefused:
    """What lunch at that time and place would cost beside those that are had; ``other``: the week with it."""
    if other is None or other.weeks.figures is None or best.weeks.figures is None:
        return LunchRefused(choice, LunchCost.NO_WEEK)
    for cost in (LunchCost.UNPLACED, LunchCost.WISHES, LunchCost.CHANGE, LunchCost.DRIVING):
        more = other.weeks.figures.of(Goal(cost.value)) - best.weeks.figures.of(Goal(cost.value))
        if more > 0 and not (cost is LunchCost.DRIVING and more <= choice.worth):
            return LunchRefused(choice, cost, more)
    return LunchRefused(choice, LunchCost.NOT_LOOKED)
