"""What a rotation gives, misses and breaks, in words. Students stand in them by their labels."""

from collections.abc import Sequence

from schedule.stations.rotation.asked import HelpBy, RotationAsked, RotationFigures, RotationFound, RotationRule
from schedule.stations.rotation.clashing import RotationClash
from schedule.stations.rotation.judging import BrokenRule
from schedule.stations.rotation.wishes import Wish

HELP_WORDS = {
    HelpBy.AT_STATIONS: "Aides stand at stations",
    HelpBy.WITH_STUDENTS: "Aides go along with a student",
}


def wish_words(asked: RotationAsked, wish: Wish) -> str:
    """A wish as a clause: "K3 comes to Balance"."""
    who = " and ".join(asked.student(key).label for key in wish.students)
    at = asked.station(wish.station) if wish.station >= 0 else None
    name = at.label if at else ""
    return {
        RotationRule.GOALS: f"{who} comes to {name}",
        RotationRule.AT_A_TIME: f"{name} takes {at.at_a_time if at else 0} at a time",
        RotationRule.STAFF: f"{name} needs {_adults(at.staff if at else 0)}",
        RotationRule.ONE_TO_ONE: f"{who} has an adult of their own",
        RotationRule.ADULT_NEAR: f"{who} is where an adult is",
        RotationRule.APART: f"{who} are kept apart",
        RotationRule.TOGETHER: f"{who} go together",
        RotationRule.CAUTIONS: f"{who} isn't at {name} before somebody was asked",
        RotationRule.WAITS: _waits_words(asked.waits_at_most),
        RotationRule.ONCE: "nobody comes to a station twice",
    }[wish.rule]


def _adults(count: int) -> str:
    return "an adult" if count == 1 else f"{count} adults"


def _waits_words(rounds: int) -> str:
    if not rounds:
        return "nobody waits"
    return f"nobody waits more than {_rounds(rounds)}"


def _rounds(count: int) -> str:
    return "1 round" if count == 1 else f"{count} rounds"


def clash_words(asked: RotationAsked, clash: RotationClash) -> tuple[str, tuple[str, ...]]:
    """What to say above a clash, and its wishes."""
    extent = "No smaller set clashes" if clash.smallest else "A smaller set may clash"
    said = f"These {len(clash.wishes)} can't all hold. If one of them goes, the others can. {extent}."
    if len(clash.wishes) == 1:
        said = "This can't hold, whatever else is given up."
    return said, tuple(wish_words(asked, wish) for wish in clash.wishes)


def broken_words(asked: RotationAsked, broken: BrokenRule) -> str:
    """A broken rule as a sentence, with the round in which it is."""
    if broken.rule is None:
        return "This rotation was made for another class: somebody came or left. Make it anew."
    who = " and ".join(asked.student(key).label for key in broken.students)
    at = asked.station(broken.station) if broken.station is not None else None
    name = at.label if at else ""
    turn = "" if broken.turn is None else f"Round {broken.turn + 1}: "
    there = len(broken.students)
    text = {
        RotationRule.GOALS: f"{who} doesn't come to {name}.",
        RotationRule.AT_A_TIME: f"{name} takes {at.at_a_time if at else 0} at a time, and {there} are there.",
        RotationRule.STAFF: f"{name} needs {_adults(at.staff if at else 0)}.",
        RotationRule.ONE_TO_ONE: f"{who} is without an adult of their own{f' at {name}' if name else ''}.",
        RotationRule.ADULT_NEAR: f"{who} is at {name}, where no adult is.",
        RotationRule.APART: f"{who} {f'are both at {name}' if name else 'both wait'}, and should be kept apart.",
        RotationRule.TOGETHER: f"{who} should go together, and don't.",
        RotationRule.CAUTIONS: f"{who} is at {name}, which meets a caution. Ask before this activity.",
        RotationRule.WAITS: f"{who} waits longer than {_rounds(asked.waits_at_most)}.",
        RotationRule.ONCE: f"{who} comes to {name} more than once.",
    }[broken.rule]
    return turn + text


def found_words(asked: RotationAsked, found: RotationFound) -> str:
    """What a rotation gives in one or two sentences, and how sure that is."""
    proof = (
        "No rotation does better in this" if found.proved else "A better one may exist: the search used its work"
    )
    return f"{figures_words(asked, found.figures)} {proof}."


def figures_words(asked: RotationAsked, figures: RotationFigures) -> str:
    """Goals that have a turn, and waiting."""
    wanted = sum(len(one.wants) for one in asked.students)
    goals = "Nobody has a goal at these stations" if not wanted else _goals_words(wanted, len(figures.missed))
    waits = "nobody waits" if not figures.waits else f"{_rounds(figures.waits)} of waiting in all"
    return f"{goals}; {waits}."


def _goals_words(wanted: int, missed: int) -> str:
    if not missed:
        return "Everybody comes to every station that serves a goal" if wanted > 1 else "The one goal has its turn"
    return f"{wanted - missed} of {wanted} turns at a station that serves a goal"


def difference_words(asked: RotationAsked, mine: RotationFound, other: RotationFound) -> str:
    """What the other way of helping would give beside this one."""
    help_by = HelpBy.WITH_STUDENTS if asked.help_by is HelpBy.AT_STATIONS else HelpBy.AT_STATIONS
    parts = [
        _more(
            mine.figures.beside,
            other.figures.beside,
            "round in which two to be kept apart both wait",
            "rounds in which two to be kept apart both wait",
        ),
        _more(
            mine.figures.over,
            other.figures.over,
            "round of waiting over what you allow",
            "rounds of waiting over what you allow",
        ),
        _more(
            len(mine.figures.missed),
            len(other.figures.missed),
            "turn at a goal's station missed",
            "turns at a goal's station missed",
        ),
        _more(mine.figures.waits, other.figures.waits, "round of waiting", "rounds of waiting"),
        _more(mine.figures.again, other.figures.again, "second visit", "second visits"),
        _more(mine.figures.walks, other.figures.walks, "place walked", "places walked"),
    ]
    said = [one for one in parts if one]
    label = HELP_WORDS[help_by]
    return f"“{label}” would be the same in figures." if not said else f"“{label}” would mean {_listed(said)}."


def _more(mine: int, other: int, one: str, several: str) -> str:
    if mine == other:
        return ""
    count = abs(other - mine)
    return f"{count} {'fewer' if other < mine else 'more'} {one if count == 1 else several}"


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
