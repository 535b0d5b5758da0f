"""A timetable with rotating days weighed by whole weeks: made week by week, and bettered by a search from there.

Insertion alone says little of a week that is full or wishes for much: here each kind of week is planned exactly
against a timetable (``Weeks.nearest``), and the search for a better one goes on from these weeks.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from schedule.planner.result import Itinerary
from schedule.planner.term.alike import on_days_of
from schedule.planner.term.expected import expected_in, standing_session
from schedule.planner.term.kinds import Found, Weeks
from schedule.planner.term.plain import with_spaces
from schedule.planner.term.rotation.votes import Vote, away_from, held_in
from schedule.planner.term.shared import AlikeWeeks
from schedule.planner.term.template.chains import LOW, Begun, find_template
from schedule.planner.term.term import StandingSession, StandingTimetable, TermWeek
from schedule.planner.week.routes import plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import closest_state

OWN_SHARE, CHAIN_SHARE, FITTED_SHARE = 0.45, 0.5, 0.6
"""Of the effort left: for each week by itself, near what stands by then, and near all that stands at the end."""

OWN_TIMES, AGAIN_SHARE = 0.4, 0.4
"""By itself a week takes so many times its equal share at first: what is left is for those that don't place all.
Those that still may leave out what has a place are looked at once more, in that share of the effort left."""

type Weight = tuple[int, int, int]

STAYING = 10**9
"""Minutes of driving that no week saves: usual times are left only where they have to be."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A timetable and each kind of week at its nearest to it, on the days of that kind.

    ``weight``: minutes without a place, wishes missed, and driving with the worth of each session that isn't at a
    usual time though its day is open, all over the term.
    """

    sessions: tuple[StandingSession, ...]
    found: tuple[Found, ...]
    weight: Weight


@dataclass(frozen=True, slots=True)
class WholeWeeks:
    """The kinds of week of a term, planned exactly against one timetable after the other."""

    kinds: Sequence[AlikeWeeks]
    term: Sequence[TermWeek]
    weeks: Weeks
    worth: int

    def chained(self) -> Whole:
        """One kind after the other kept near what stands by then; what it holds beside that stands from then on.

        The kinds in which nothing is unusual come first, of these those that come most often and owe most. At the
        end each goes on from its week to one that is near to all that stands.
        """
        standing, plans = StandingTimetable(), dict[str, Itinerary]()
        ordered = sorted(self.kinds, key=_plainest_first)
        self._expect(OWN_SHARE, OWN_TIMES)
        for kind in ordered:
            self.weeks.best(kind.week, until_placed=True)
        left = [kind for kind in ordered if not self.weeks.places_all(kind.week)]
        self.weeks.expect(len(left), AGAIN_SHARE, times=1.0)
        for kind in left:
            if self.weeks.budget.remaining() > 0:
                self.weeks.best_again(kind.week)
        self._expect(CHAIN_SHARE)
        for kind in ordered:
            plan = self.weeks.nearest(kind.week, standing, STAYING).plan
            standing = with_spaces(with_rest(kind.week, standing, plan), self.term)
            plans[kind.week.id] = plan
        found = [plans[kind.week.id] for kind in self.kinds]
        whole = self._fitted(standing.sessions, found, FITTED_SHARE)
        return min(whole, self._fitted(whole.sessions, [one.plan for one in whole.found], 1.0), key=_weight_of)

    def _expect(self, share: float, times: float = 1.0) -> None:
        """A question of each kind to be asked, in this share of the effort left."""
        self.weeks.expect(len(self.kinds), share, times)

    def _fitted(self, sessions: Sequence[StandingSession], plans: Sequence[Itinerary], share: float) -> Whole:
        """Each session where most weeks hold it, and every kind planned again from what it is."""
        fitted = Vote(self.kinds, plans).fitted(sessions)
        self._expect(share)
        return self.planned(fitted, plans)

    def planned(self, sessions: Sequence[StandingSession], begun: Sequence[Itinerary | None] = ()) -> Whole:
        """Every kind at its nearest to a timetable; ``begun``: plans from which to go on, one for each kind."""
        standing = with_spaces(StandingTimetable(tuple(sessions)), self.term)
        found = tuple(
            self.weeks.nearest(kind.week, standing, STAYING, one)
            for kind, one in zip(self.kinds, begun or [None] * len(self.kinds), strict=True)
        )
        weights = [self._weight(kind, standing, one) for kind, one in zip(self.kinds, found, strict=True)]
        unplaced, wishes, cost = map(sum, zip(*weights, strict=True))
        return Whole(standing.sessions, found, (unplaced, wishes, cost))

    def best_of(self, timetables: Iterable[Sequence[StandingSession]], is_over: Callable[[], bool]) -> Whole:
        """The best of some timetables, the first one at least planned, the others until ``is_over`` says so."""
        best: Whole | None = None
        for one in timetables:
            if best is None or not is_over():
                best = min([*filter(None, [best]), self.planned(one)], key=lambda whole: whole.weight)
        return best or self.planned(())

    def bettered(
        self, whole: Whole, *, seed: int, workers: int, effort: float, remaining: Callable[[], float]
    ) -> Whole:
        """The better one of a timetable and what a search from its weeks comes to in ``effort`` seconds of work."""
        states = [self._state(kind, one.plan) for kind, one in zip(self.kinds, whole.found, strict=True)]
        if any(state is None for state in states):
            return whole
        begun = Begun(
            [replace(one, space=None) for one in whole.sessions], [one for one in states if one is not None]
        )
        best = find_template(
            self.kinds,
            [begun],
            worth=self.worth,
            seed=seed,
            workers=workers,
            effort=effort,
            remaining=remaining,
            heats=LOW,
        )
        self.weeks.budget.work.add(best.units)
        plans = [
            on_days_of(plan_of(state.model, state.routes), kind.week.problem)
            for kind, state in zip(self.kinds, best.weeks, strict=True)
        ]
        return min(whole, self.planned(best.sessions, plans), key=lambda one: one.weight)

    def _state(self, kind: AlikeWeeks, plan: Itinerary) -> WeekState | None:
        return closest_state(kind.empty.copy(), on_days_of(plan, kind.model.problem))

    def _weight(self, kind: AlikeWeeks, standing: StandingTimetable, found: Found) -> Weight:
        expected = expected_in(kind.week, standing)
        owed = sum(service.sessions for service in kind.week.problem.services)
        members = [len(kind.week.problem.members(one.standing.unit)) for one in expected]
        away = away_from(kind.week.problem, expected, held_in(kind.week.problem, found.plan))
        nowhere = max(0, owed - sum(members))
        figures = found.figures
        cost = figures.driving + self.worth * (away + nowhere)
        return kind.count * figures.unplaced, kind.count * figures.wishes, kind.count * cost


def with_rest(week: TermWeek, standing: StandingTimetable, plan: Itinerary) -> StandingTimetable:
    """The timetable, and after it what a plan of the week holds beyond what would be expected of the week."""
    problem = week.problem
    expected = expected_in(week, standing)
    known = {(one.session.unit, one.session.day, one.session.at) for one in expected if one.session is not None}
    left = Counter({service.id: service.sessions for service in problem.services})
    for one in expected:
        left.subtract(problem.members(one.standing.unit))
    more: list[StandingSession] = []
    for session in plan.sessions:
        members = problem.members(session.unit)
        if (session.unit, session.day, session.at) not in known and all(left[member] > 0 for member in members):
            left.subtract(members)
            more.append(standing_session(problem, session))
    return StandingTimetable((*standing.sessions, *more))


def _weight_of(whole: Whole) -> Weight:
    return whole.weight


def _plainest_first(kind: AlikeWeeks) -> tuple[bool, int, int, str]:
    owed = sum(service.sessions for service in kind.week.problem.services)
    return bool(kind.week.unusual), -kind.count, -owed, kind.week.id
