"""What a plan of several teachers says: who gives way to whom, what it costs each, what is proved. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from schedule.calendar.words import clock_words, listed
from schedule.planner.problem import Goal
from schedule.planner.result import ENDED_WORDS, GoalFigures
from schedule.planner.together.plan import TogetherResult
from schedule.planner.together.shared import Party
from schedule.weeks.aims import AIM_WORDS, Aim

COULD = {
    Goal.UNPLACED: "{} minutes more could be placed at most",
    Goal.WISHES: "{} minutes more of the contract's wishes could be met at most",
    Goal.CHANGE: "{} sessions more could keep their usual time at most",
    Goal.DRIVING: "{} minutes of driving could be saved at most",
}
COSTS = {
    Goal.UNPLACED: "{} minutes more aren't placed",
    Goal.WISHES: "{} minutes more of the contract's wishes are missed",
    Goal.CHANGE: "{} sessions more move",
    Goal.DRIVING: "{} minutes more at the wheel",
}


@dataclass(frozen=True, slots=True)
class AskedTogether:
    """What is chosen for a week of several teachers: their names, what comes first, seconds of search a week."""

    names: tuple[str, ...]
    aim: Aim
    seconds: int


def chosen_otherwise(under_way: AskedTogether, asked: AskedTogether) -> list[str]:
    """A sentence for each choice in which a plan that is asked for differs from the one under way."""
    found = []
    if missing := [name for name in asked.names if name not in under_way.names]:
        found.append(f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} not among them.")
    if more := [name for name in under_way.names if name not in asked.names]:
        found.append(f"You left out {listed(more)}.")
    if asked.aim != under_way.aim:
        found.append(f"“{AIM_WORDS[under_way.aim]}” comes first there, not “{AIM_WORDS[asked.aim]}”.")
    if asked.seconds != under_way.seconds:
        found.append(f"A week is searched for {under_way.seconds} seconds there, not for {asked.seconds}.")
    return found


def sums_told(party: Party, result: TogetherResult) -> str:
    """What all weeks make together, and how far that is from the least possible."""
    sums = dict(zip(party.goals, result.value, strict=True))
    opening = f"All together: {sums[Goal.DRIVING]} minutes at the wheel, {sums[Goal.UNPLACED]} minutes not placed."
    if result.proved:
        return f"{opening} No weeks of these teachers are better over all, proved."
    goal, more = next(
        (goal, value - bound)
        for goal, value, bound in zip(party.goals, result.value, result.bound, strict=True)
        if value != bound
    )
    return f"{opening} {COULD[goal].format(more)}: the search ended since {ENDED_WORDS[result.ended]}."


def ways_given_told(party: Party, result: TogetherResult) -> list[str]:
    """Each thing that several wanted at one time: who has it, who gives way. Marked codes, in order of time."""
    names = {one.id: one.name for one in party.members}
    days = party.members[0].problem
    found: dict[str, None] = {}
    for one in result.gave_way:
        clash = one.clash
        when = f"{party.name(clash.key)}, {days.name_of_day(clash.day)} {clock_words(clash.minute)}"
        if not one.gave:
            continue
        gives = "gives" if len(one.gave) == 1 else "give"
        kept = f"{listed([names[who] for who in one.kept])} has it" if one.kept else "nobody has it then"
        found[f"{when}: {kept}, {listed([names[who] for who in one.gave])} {gives} way."] = None
    return list(found)


def cost_told(name: str, goals: tuple[Goal, ...], own: GoalFigures, now: GoalFigures) -> str:
    """What a teacher's week costs beside one planned as if nobody else were there."""
    costs = list(_costs(goals, own, now))
    return f"{name}: {listed(costs)} than planned alone." if costs else f"{name}: the same as planned alone."


def _costs(goals: tuple[Goal, ...], own: GoalFigures, now: GoalFigures) -> Iterator[str]:
    for goal in goals:
        more = now.of(goal) - own.of(goal)
        if more > 0:
            yield COSTS[goal].format(more)


def figures_of_goals(figures: GoalFigures) -> Mapping[str, int]:
    """Figures by goal, to be kept."""
    return {goal.value: figures.of(goal) for goal in Goal}
