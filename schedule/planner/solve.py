"""The planner as one pure function: a problem in, a checked result out."""

import math
import random
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from schedule.planner.check import check
from schedule.planner.possible import why_impossible
from schedule.planner.problem import Goal, Problem
from schedule.planner.proving.exact import Exact
from schedule.planner.proving.other_order import in_other_order
from schedule.planner.proving.proof import Proof
from schedule.planner.proving.tours.best import best_tour, is_one_tour
from schedule.planner.result import (
    ENDED_WORDS,
    Ended,
    GoalFigures,
    GroupFormed,
    Itinerary,
    OtherOrder,
    Result,
    Stage,
    Status,
)
from schedule.planner.run import Bounded, Progress, Run
from schedule.planner.week.construct import fill
from schedule.planner.week.explain import explain_unplaced
from schedule.planner.week.floors import floor_of
from schedule.planner.week.improve import BY_VISITS, improve, settle
from schedule.planner.week.layout import build_model
from schedule.planner.week.model import Model
from schedule.planner.week.objective import figures_of
from schedule.planner.week.routes import Route, plan_of
from schedule.planner.week.state import WeekState
from schedule.planner.week.takeover import closest_state

ROUNDS_OF_SEARCH = 250
ROUNDS_A_SESSION = 10
MORE_ROUNDS_A_SESSION, PATIENCE_A_SESSION = 12, 3
SECONDS_OF_SEARCHING_ON = 4.0
"""Rounds more while they better the week, for each session, and seconds of work after which the proof is the
quicker way to a better one."""

ROUNDS_OF_PLACING = 400
"""Rounds of search more where the first ones leave owed minutes unplaced."""

ROUNDS_OF_SETTLING = 300
LEAST_SECONDS_OF_SAMENESS = 2.0
SHARE_OF_SAMENESS = 0.5
"""Choosing for sameness takes at most this share of the time that all goals before it took, or those seconds."""

MORE_FOR_A_FIRST_WEEK = 1.0
"""Seconds past its limit that a run may take until a first week is full: there is nothing to show before."""

SHARE_OF_SEARCH = 0.25
"""Of the time allowed, the most that the first search may take before proof begins."""


class JudgeError(RuntimeError):
    """The judge refused a plan that the search believed in: a fault of the planner, never of the problem."""


def solve(
    problem: Problem,
    *,
    seed: int = 0,
    time_limit: float = 60.0,
    placing_limit: float = 0.0,
    effort: float = math.inf,
    workers: int = 2,
    other: tuple[Goal, ...] = (),
    progress: Progress | None = None,
    bounded: Bounded | None = None,
    stop: Callable[[], bool] | None = None,
    monotonic: Callable[[], float] = time.monotonic,
    begun: Itinerary | None = None,
    found: Callable[[Itinerary], None] | None = None,
    known: tuple[Stage, ...] = (),
) -> Result:
    """Plan the horizon. ``time_limit`` in seconds; ``stop`` is polled and ends the run with the best so far.

    ``effort``: seconds of work, counted in steps of the search and not by a clock (``week.work``). How a run shares
    its time follows from it as long as the clock leaves as much, so that the same seed, effort and workers give the
    same plan on a busy machine and on an idle one. Give the clock enough more than the effort; where it ends a run
    all the same, ``ended`` says so.

    While it isn't known that no week places more than the best one, the run goes on for up to ``placing_limit``
    seconds, and the goals after placing have ``time_limit`` from then on; 0 leaves it at ``time_limit`` in all.
    ``bounded(goal, least)`` is called whenever it becomes known that no week can go below so much in a goal.
    ``other``: another order of the goals, which is worked out too in the time that the problem's own order leaves.

    ``found`` is told of each plan that is better than all before it; ``begun``, such a plan of a search that was
    interrupted, is where this one goes on from. ``known``: stages of the same week with other goals after the
    first ones; their bounds hold here too.

    Raises
    ``JudgeError`` if the judge refuses the plan found; no such plan is ever returned.
    """
    began = monotonic()
    run = Run(build_model(problem), time_limit, monotonic, progress, stop, bounded, placing_limit, effort)
    run.known, run.began = known, began
    state = WeekState(run.model)
    impossible = why_impossible(run.model, state, run)
    if impossible is not None:
        return replace(impossible, seed=seed, workers=workers, seconds=run.elapsed())
    if found is not None:
        run.found = lambda routes: found(plan_of(run.model, routes))
    state = _first(run.model, state, begun, run.late(MORE_FOR_A_FIRST_WEEK))
    run.bound(Goal.UNPLACED, max(floor_of(run.model, Goal.UNPLACED), run.known_bound(Goal.UNPLACED, {})))
    run.offer(state.routes)
    _judged(run)
    run.first_plan_seconds = run.elapsed()
    run.tell("first plan, checked")
    stages, aside = _stages(run, state, random.Random(seed), workers, other)  # noqa: S311 - a search needs no secret
    run.stage = "explain"
    plan, figures = _judged(run)
    unplaced = explain_unplaced(problem, plan)
    status = Status.OPTIMAL if all(one.status is Status.OPTIMAL for one in stages) else Status.FEASIBLE
    ended = next((one.ended for one in stages if one.ended is not Ended.PROOF), Ended.PROOF)
    return Result(
        status=status,
        plan=plan,
        figures=figures,
        stages=tuple(stages),
        unplaced=unplaced,
        groups=_groups(problem, plan),
        seed=seed,
        workers=workers,
        seconds=run.elapsed(),
        first_plan_seconds=run.first_plan_seconds,
        stopped=ended is not Ended.PROOF,
        ended=ended,
        labels=run.labels,
        work=run.model.work.seconds,
        other=aside,
        current_sessions=run.model.current_sessions,
        message=_message(stages, figures, ended),
    )


def _first(model: Model, empty: WeekState, begun: Itinerary | None, late: Callable[[], bool]) -> WeekState:
    """The best start: a full week from pins and blocks alone, the week in force, or what was begun before.

    Once it is ``late``, what is in a week by then is all there is of it.
    """
    fresh = _fresh_or_kept(model, empty, late)
    before = closest_state(empty.copy(), begun, late) if begun is not None else None
    return before if before is not None and before.rank < fresh.rank else fresh


def _fresh_or_kept(model: Model, empty: WeekState, late: Callable[[], bool]) -> WeekState:
    """A full week from pins and blocks alone, or from the week in force if that is the better start."""
    fresh = empty.copy()
    fill(fresh, regret=True, halted=late)
    if not model.current_sessions:
        return fresh
    kept = empty.copy()
    for day in model.days:
        for number, node in enumerate(day.nodes):
            if node.kept == len(node.services) > 0 and number not in kept.visits[day.index]:
                option = kept.option(day.index, number)
                if option is not None:
                    kept.put(option)
    fill(kept, regret=True, halted=late)
    return kept if kept.rank < fresh.rank else fresh


# ---- the stages ------------------------------------------------------------------------------------------


def _stages(
    run: Run, state: WeekState, rng: random.Random, workers: int, other: tuple[Goal, ...]
) -> tuple[list[Stage], OtherOrder | None]:
    """Search, then prove one goal after the other, each with the goals before it held; then the other order."""
    tried: dict[Route, None] = {}

    def see(trial: WeekState) -> None:
        tried.update(dict.fromkeys(trial.routes))

    def is_long() -> bool:
        return run.share_spent() > began + SHARE_OF_SEARCH

    run.stage, began = "search", run.share_spent()
    search = partial(
        improve,
        rng=rng,
        halted=lambda: run.remaining() <= 0 or is_long(),
        on_better=lambda better: run.offer(better.routes),
        on_trial=see,
    )
    sessions, enough = sum(run.model.owed), run.model.work.seconds + SECONDS_OF_SEARCHING_ON
    state = search(state, iterations=min(ROUNDS_OF_SEARCH, ROUNDS_A_SESSION * sessions))
    state = search(
        state,
        iterations=MORE_ROUNDS_A_SESSION * sessions,
        patience=PATIENCE_A_SESSION * sessions,
        removals=BY_VISITS,
        halted=lambda: run.remaining() <= 0 or is_long() or run.model.work.seconds > enough,
    )
    if state.figures.unplaced > run.least_unplaced:
        search(state, iterations=ROUNDS_OF_PLACING, patience=ROUNDS_OF_PLACING)
    known = _one_tour(run)
    exact = Exact(
        run.model,
        workers,
        run.remaining,
        run.offer,
        run.tell,
        run.bound,
        clock_left=run.clock_left,
        by_work=run.by_work,
    )
    exact.learn(tried)
    stages = _every_stage(run, exact, [], known, rng)
    aside = _other_order(run, exact, stages, other)
    stages = _every_stage(run, exact, _still_true(run, stages), known, rng)
    run.labels = exact.labels
    return stages, aside


def _every_stage(
    run: Run, exact: Exact, stages: list[Stage], known: dict[Goal, int], rng: random.Random
) -> list[Stage]:
    """The stages that are still true and those after them, until all goals are asked of one and the same week."""
    goals = run.model.problem.goals
    while len(stages) < len(goals):
        goal = goals[len(stages)]
        held = {stage.goal: stage.value for stage in stages}
        run.stage = goal.value
        if goal is Goal.SAMENESS or Goal.SAMENESS in held:
            stages.append(_settled_stage(run, exact, goal, held, rng))
        elif goal is Goal.UNPLACED:
            stages.append(_placing_stage(run, exact, known.get(goal, 0), rng))
        else:
            floor = known.get(goal, 0) if not any(held.values()) else 0
            stages.append(_one_stage(run, exact, goal, held, floor))
        stages = _still_true(run, stages)
    return stages


def _placing_stage(run: Run, exact: Exact, floor: int, rng: random.Random) -> Stage:
    """Asked again, each time with more weeks tried before it, while the run may go on for what has no place."""
    stage = _one_stage(run, exact, Goal.UNPLACED, {}, floor)
    tried: dict[Route, None] = {}

    def see(trial: WeekState) -> None:
        tried.update(dict.fromkeys(trial.routes))

    while run.is_placing() and run.remaining() > 0:
        run.tell("searching on for what is not placed")
        state = WeekState(run.model)
        state.load(run.best)
        improve(
            state,
            rng,
            ROUNDS_OF_PLACING,
            halted=lambda: run.remaining() <= 0 or not run.is_placing(),
            on_better=lambda better: run.offer(better.routes),
            on_trial=see,
            patience=ROUNDS_OF_PLACING,
        )
        exact.learn(tried)
        stage = _one_stage(run, exact, Goal.UNPLACED, {}, floor)
    return stage


def _other_order(run: Run, exact: Exact, stages: list[Stage], goals: tuple[Goal, ...]) -> OtherOrder | None:
    """What another order gives, judged; ``None`` where it is the same anyway or the time doesn't reach."""
    if not goals or not run.model.current_sessions or run.remaining() <= 0:
        return None
    by_hand = run.by_hand
    run.stage = "other order"
    run.tell("the other order of goals")
    found = in_other_order(run.model, exact, run.best, stages, goals)
    # The week that was asked for is done: who ends this part takes nothing from it.
    run.by_hand = by_hand
    if found is None:
        return None
    figures = figures_of(run.model, found.routes)
    _judged_plan(run.model, found.routes, figures)
    return OtherOrder(goals, figures, found.proved)


def _still_true(run: Run, stages: list[Stage]) -> list[Stage]:
    """The stages whose values are the best week's own, up to the first that has been overtaken.

    A later stage may come upon a week that is better in an earlier, unproved goal. What was said of the goals after
    that one was said of another week, so they are asked again. Each time the best week is strictly better, so this
    comes to an end.
    """
    figures = figures_of(run.model, run.best)
    for at, stage in enumerate(stages):
        if figures.of(stage.goal) != stage.value:
            return stages[:at]
    return stages


def _one_tour(run: Run) -> dict[Goal, int]:
    """What no day with everything placed can go below in driving, where the problem is one such day."""
    goals = run.model.problem.goals
    settled = goals[: goals.index(Goal.DRIVING)] if Goal.DRIVING in goals else goals
    if not is_one_tour(run.model) or set(settled) - {Goal.UNPLACED, Goal.WISHES}:
        return {}
    run.stage = "one day"
    tour = best_tour(run.model, run.clock_left, run.effort_left)
    if tour.route is not None:
        run.offer([tour.route])
        run.tell("a tour with everything placed")
    return {Goal.DRIVING: tour.bound}


def _one_stage(run: Run, exact: Exact, goal: Goal, held: dict[Goal, int], floor: int) -> Stage:
    """``floor`` is a bound that was proved otherwise, 0 where there is none."""
    floor = max(floor, floor_of(run.model, goal), run.known_bound(goal, held))
    proof = exact.prove(goal, held, run.best, floor)
    _keep_better(run, proof, goal, held)
    value = figures_of(run.model, run.best).of(goal)
    # A week below the bound would mean that the bound is false: then nothing is claimed.
    if value == proof.bound:
        return Stage(goal, value, value, Status.OPTIMAL)
    return Stage(goal, value, min(proof.bound, value), Status.FEASIBLE, run.ended(proof))


def _keep_better(run: Run, proof: Proof, goal: Goal, held: dict[Goal, int]) -> None:
    """Go on from the proof's week unless the best week is as good in all goals up to this one."""
    ours, theirs = figures_of(run.model, run.best), figures_of(run.model, proof.routes)
    known = [*held, goal]
    if [theirs.of(one) for one in known] < [ours.of(one) for one in known]:
        run.best, run.best_figures = list(proof.routes), theirs


def _settled_stage(run: Run, exact: Exact, goal: Goal, held: dict[Goal, int], rng: random.Random) -> Stage:
    """Sameness couples days: it is chosen among the days that keep the goals before it, then improved."""
    floor = floor_of(run.model, goal)
    state = WeekState(run.model)
    state.load(run.best)
    rounds = min(ROUNDS_OF_SETTLING, ROUNDS_A_SESSION * sum(run.model.owed))

    def halted() -> bool:
        return run.remaining() <= 0

    if figures_of(run.model, run.best).of(goal) > floor:
        state = settle(state, halted)
        state = improve(
            state, rng, rounds, halted, lambda better: run.offer(better.routes), bold=False, patience=rounds
        )
        run.offer(settle(state, halted).routes)
    proof = Proof(0, floor, run.best, [Ended.EARLIER])
    if goal is Goal.SAMENESS:
        seconds = max(LEAST_SECONDS_OF_SAMENESS, SHARE_OF_SAMENESS * run.spent())
        proof = exact.prove_sameness(held, run.best, floor, seconds)
    value = figures_of(run.model, run.best).of(goal)
    if value <= proof.bound:
        return Stage(goal, value, value, Status.OPTIMAL)
    return Stage(goal, value, proof.bound, Status.FEASIBLE, run.ended(proof))


# ---- the answer ------------------------------------------------------------------------------------------


def _judged(run: Run) -> tuple[Itinerary, GoalFigures]:
    """The best week as a plan that the judge has passed, with the judge's own figures."""
    return _judged_plan(run.model, run.best, run.best_figures)


def _judged_plan(model: Model, routes: list[Route], counted: GoalFigures | None) -> tuple[Itinerary, GoalFigures]:
    plan = plan_of(model, routes)
    verdict = check(model.problem, plan)
    if not verdict.holds:
        raise JudgeError("; ".join(violation.text for violation in verdict.violations))
    if verdict.figures != counted:
        raise JudgeError(f"The judge counts {verdict.figures}, the search counted {counted}.")
    return plan, verdict.figures


def _groups(problem: Problem, plan: Itinerary) -> tuple[GroupFormed, ...]:
    known = {group.id: group for group in problem.groups}
    return tuple(
        GroupFormed(session.unit, known[session.unit].members, session.day, session.at, session.place)
        for session in plan.sessions
        if session.unit in known
    )


def _message(stages: list[Stage], figures: GoalFigures, ended: Ended) -> str:
    """What is known of the week, and what ended the search where that was no proof."""
    opening = "Everything owed is placed." if figures.unplaced == 0 else "Some owed minutes are not placed."
    if ended is Ended.PROOF:
        return f"{opening} No better plan exists."
    proved = [stage.goal.value for stage in stages if stage.status is Status.OPTIMAL]
    known = f" No plan does better in {', '.join(proved)}." if proved else ""
    first = next(stage for stage in stages if stage.status is not Status.OPTIMAL)
    return (
        f"{opening}{known} In {first.goal.value} {first.value} was reached and no plan goes below {first.bound}; "
        f"the search ended there because {ENDED_WORDS[ended]}."
    )
