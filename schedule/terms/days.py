"""What the days of a term's week are: which aren't as usual, and of which kind the week is. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from schedule.calendar.day_words import WEEKDAYS
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.words import listed
from schedule.planner.term.term import UnusualDay

EVERY_WEEK = "Every week"


@dataclass(frozen=True, slots=True)
class PlaceDay:
    """One building on one date on which the teacher has contract hours; ``place`` is its code.

    ``turning``: by which of its rotations ``facts`` has the date, counted from the building's own, which is 0.
    """

    place: str
    name: str
    facts: DayFacts
    turning: int = 0

    @property
    def group(self) -> tuple[str, int]:
        """Whose days are counted together."""
        return self.place, self.turning


@dataclass(frozen=True, slots=True)
class WeekKind:
    """``letter`` says which weeks they are ("A weeks", "Every week"), ``turn`` where a rotation is then."""

    letter: str
    turn: str = ""


def unusual_days(days: Sequence[PlaceDay]) -> tuple[UnusualDay, ...]:
    """The days of a week that are closed or on other bells, known by the kind that each would be.

    A rotation goes on after a closed day, so that none of its days is lost: such a day is left out.
    """
    letters = {one.group: one.facts.cycle_label for one in days if one.facts.open and one.facts.by_week}
    turning = {one.group for one in days if one.facts.cycle_label and not one.facts.by_week}
    found = (_unusual(one, letters.get(one.group, ""), turns=one.group in turning) for one in days)
    return tuple(dict.fromkeys(one for one in found if one is not None))


def _unusual(one: PlaceDay, letter: str, *, turns: bool) -> UnusualDay | None:
    """What is unusual about a day, if anything; ``letter``: the week's in that building."""
    facts = one.facts
    if facts.open:
        words = f"on other bells ({facts.reason})"
        return UnusualDay(one.place, facts.pattern_key, words, closed=False) if facts.reason else None
    if turns:
        return None
    key = " ".join(filter(None, [letter, WEEKDAYS[facts.date.weekday()]]))
    return UnusualDay(one.place, key, f"closed ({facts.reason})")


def kind_of_week(days: Sequence[PlaceDay]) -> WeekKind:
    """Of which kind the week is, in words, by the letters and the rotations of its schools."""
    letters: dict[str, list[str]] = {}
    turns: dict[str, list[str]] = {}
    for group in dict.fromkeys(one.group for one in days):
        mine = [one for one in days if one.group == group and one.facts.open and one.facts.cycle_label]
        if mine:
            first = min(mine, key=lambda one: one.facts.date)
            groups = letters if first.facts.by_week else turns
            groups.setdefault(first.facts.cycle_label, []).append(first.name)
    return WeekKind(", ".join(_parts(letters, "{} weeks")) or EVERY_WEEK, ", ".join(_parts(turns, "begins on {}")))


def _parts(groups: dict[str, list[str]], words: str) -> list[str]:
    """A part for each label; with the schools where not all bear the same."""
    return [
        words.format(label) + (f" at {listed(sorted(set(names)))}" if len(groups) > 1 else "")
        for label, names in groups.items()
    ]
