"""The times of a standing timetable in words, and what is known of a planned term. Pure."""

from schedule.calendar.day_words import WEEKDAYS
from schedule.calendar.words import clock_words


def when_words(weekday: int | None, cycle_day: str, at: int) -> str:
    """``Tuesdays 9:30``, ``Day 3, 9:30``, ``Tuesdays of A weeks 9:30``."""
    if weekday is None:
        return f"{cycle_day}, {clock_words(at)}"
    days = f"{WEEKDAYS[weekday].capitalize()}s"
    return f"{days} of {cycle_day} weeks {clock_words(at)}" if cycle_day else f"{days} {clock_words(at)}"


def day_of_key(key: str) -> tuple[int | None, str]:
    """Weekday and cycle day of a kind of day, as ``schedule.calendar.starts.pattern_key`` writes it."""
    head, _, tail = key.rpartition(" ")
    if tail in WEEKDAYS:
        return WEEKDAYS.index(tail), head
    return None, key


def in_plain_words(sentence: str, key: str, at: int) -> str:
    """A sentence of the planner, with a standing time as people say it in place of its own "A monday 9:30"."""
    return sentence.replace(f"{key} {clock_words(at)}", when_words(*day_of_key(key), at), 1)


def found_words(*, left: int, driving: int, least: int | None, weeks: int, cut: bool) -> str:
    """What a planned term is worth and what more there could be, so that a person knows whether to search on.

    ``left``: owed minutes without a time; ``driving`` over the term and ``least``, what no weeks that place as much
    go below, ``None`` where that isn't known.
    """
    placed = "Everything owed has a time." if not left else f"{left} owed minutes have no time."
    if least is None:
        return f"{placed} How much driving could still be saved isn't known: the search ended before."
    if driving <= least:
        return f"{placed} No weeks that place as much drive less."
    saved = driving - least
    a_week = f"about {-(-saved // weeks)} a week" if saved >= weeks else "less than one a week"
    more = f"{saved} more minutes of driving over the term could be saved at most, {a_week}"
    return f"{placed} {more}{', by searching on or by leaving usual times' if cut else ', by leaving usual times'}."


def way_words(way: str, *, proved: bool, left: int, fewest: int, ended: str) -> str:
    """What is known of other ways to change a timetable, and whether looking again may find a better one.

    ``left``: sessions that leave where they stand by this way, ``fewest`` what every way has at least.
    """
    if way == "least_driving":
        aim = "Proved: in these weeks, one after the other, none drives less." if proved else ""
    elif way == "in_between":
        aim = "Of what lies between the two, this saves most driving for what it moves." + (
            " Proved: in these weeks, one after the other, none that moves as few drives less." if proved else ""
        )
    elif left <= fewest:
        then = "from then on no" if way == "starts_later" else "no"
        aim = f"Proved: {then} way that places as much moves fewer." + _of_those(proved=proved)
    elif not fewest:
        aim = "Whether fewer could move isn't known."
    else:
        aim = (
            f"At least {fewest} of these {left} have to move, each service of a group counted; whether fewer than "
            f"{left} would do isn't known."
        )
    return " ".join(filter(None, [aim, "" if proved else _AGAIN.get(ended, _AGAIN["effort"])]))


def beside_words(moved: int, driving: int, *, fewest: tuple[int, int]) -> str:
    """What a way costs and saves beside the one with fewest moves, whose sessions moved and minutes are given."""
    more, saved = moved - fewest[0], fewest[1] - driving
    if more <= 0 or saved <= 0:
        return ""
    sessions = "1 more session moves" if more == 1 else f"{more} more sessions move"
    minutes = "1 minute" if saved == 1 else f"{saved} minutes"
    return f"{sessions} than by the fewest moves, and {minutes} of driving {'is' if saved == 1 else 'are'} saved."


def later_words(moved: int, *, fewest: int) -> str:
    """What one gains by beginning later: sessions that move for good, beside those of the fewest moves at once."""
    if moved < fewest:
        less = fewest - moved
        return f"{less} fewer session{'s move' if less > 1 else ' moves'} for good than at once."
    if moved == fewest:
        return "As many sessions move as at once, and none before it has to."
    return "More sessions move for good than at once, and fewer are elsewhere in single weeks."


def _of_those(*, proved: bool) -> str:
    return " Of those that move as few, none drives less." if proved else " One that moves as few may drive less."


_AGAIN = {
    "clock": "Time ran out before all of the search was done: planned again, a better way may be found.",
    "person": "The search was stopped by hand, and a better way may exist.",
    "effort": "The search ended before a proof, and a better way may exist.",
}


FIRST_TERM = "a first term, checked"
_DOING = {
    "the plain week": "Making a timetable for a plain week.",
    "plain weeks that suit the others": "Weighing timetables by what they cost over the whole term.",
    "where the rotating sessions stand": "Looking for where the sessions on rotating days stand.",
    "weeks nearest to each other": "Planning one week after the other, each as near as it can be to those before.",
    "a timetable that suits every week": "Looking for a timetable that suits every week better.",
    "a timetable that suits the weeks which the calendar disturbs": "Weighing weeks in which days fall out.",
    "the timetable from each week in which a service begins or ends": "Fitting it to what begins or ends.",
    "what the weeks could do for themselves": "Working out how much driving could still be saved at most.",
}
"""What the planner says of itself, as a colleague would; of anything else the weeks are counted."""


def doing_words(message: str, done: int, weeks: int, *, has_first: bool) -> str:
    """What the search for a term does, and what stopping it now would keep.

    ``has_first``: a whole term was found and judged.
    """
    counted = f"Fitting week {done + 1} of {weeks} to the timetable." if done < weeks else "Every week is fitted."
    doing = _DOING.get(message, counted)
    return f"{doing} A whole term is found: stopping keeps the best so far." if has_first else doing
