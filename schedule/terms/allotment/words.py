"""An allotment in sentences: what each period's sessions are, in which weeks, and why there. Pure."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from schedule.calendar.words import listed
from schedule.terms.allotment.question import Allotment, AllotmentAim, Allotted, ShareKind

AIM_WORDS = {
    AllotmentAim.MISSING: "minutes without a week",
    AllotmentAim.MIXED: "weeks with sessions of two periods",
    AllotmentAim.OVERFULL: "minutes beyond the room of weeks",
    AllotmentAim.NOT_MADE_GOOD: "minutes of short weeks not made good",
    AllotmentAim.BUNCHED: "sessions beyond twice the even pace",
    AllotmentAim.COST: "minutes in class and on the road",
    AllotmentAim.NO_RESERVE: "minutes of reserve without room",
    AllotmentAim.PACE: "distance from an even pace",
}

HEADS = {
    ShareKind.OWED: "owed in {period}",
    ShareKind.MAKE_GOOD: "to make good {period}",
    ShareKind.RESERVE: "in reserve for {period}",
}
NO_WEEK = {
    ShareKind.OWED: "no week is left with a day for {it}",
    ShareKind.MAKE_GOOD: "no later week has room for {it}",
    ShareKind.RESERVE: "no week has room for {it}",
}


def allotted_words(one: Allotted, names: Mapping[str, str], trips: Mapping[tuple[dt.date, str], int]) -> str:
    """One share: how much, in which weeks, and whether the teacher is there anyway.

    ``names``: buildings by code; ``trips``: days at buildings that nothing else asks for.
    """
    share = one.share
    head = f"{share.count} x {share.minutes} minutes {HEADS[share.kind].format(period=share.period)}"
    said = [f"{_weeks_words(one.weeks)}{_why(one, names, trips)}"] if one.weeks else []
    if one.missing:
        it = "it" if share.count == 1 else "them" if not one.weeks else f"{one.missing} of them"
        said.append(NO_WEEK[share.kind].format(it=it))
    return f"{head}: {'; '.join(said)}." if said else f"{head}."


def _weeks_words(weeks: Mapping[dt.date, int]) -> str:
    """“1 in each of the weeks of November 2, 9 and 16, 2 in the week of November 30”."""
    by_count: dict[int, list[dt.date]] = defaultdict(list)
    for monday in sorted(weeks):
        by_count[weeks[monday]].append(monday)
    parts = [f"{count} in {_several(mondays)}" for count, mondays in by_count.items()]
    return ", ".join(parts)


def _several(mondays: Sequence[dt.date]) -> str:
    words = listed(_dates(mondays))
    return f"the week of {words}" if len(mondays) == 1 else f"each of the weeks of {words}"


def _dates(mondays: Iterable[dt.date]) -> list[str]:
    """Dates with their month where it changes."""
    found, month = list[str](), ""
    for monday in mondays:
        own = f"{monday:%B}"
        found.append(f"{monday.day}" if own == month else f"{own} {monday.day}")
        month = own
    return found


def _why(one: Allotted, names: Mapping[str, str], trips: Mapping[tuple[dt.date, str], int]) -> str:
    if one.share.kind is ShareKind.RESERVE:
        return ", where room is left"
    places = {chance.monday: chance.place for chance in one.share.chances}
    added = [monday for monday in sorted(one.weeks) if trips.get((monday, places[monday]))]
    where = listed(sorted({names.get(places[monday], places[monday]) for monday in one.weeks}))
    if not added:
        return f", when you are at {where} anyway"
    return (
        f"; {_several(added)} {'needs' if len(added) == 1 else 'need'} a day at {where} that nothing else asks for"
    )


LIKELY = 2 / 3
"""Above this a service is said to be likely behind; below it the figures are shown and nothing is claimed.

With a half it was said, in simulated terms whose weeks have all the room that the reserve wants, of every fourth to
sixth service, and in one kind of district a third of these were behind (docs/forecast.md)."""


def behind_words(missing: int, ends_short: float) -> str:
    """Why a period will be behind; empty where that isn't to be expected. ``missing``: minutes without a week.

    ``ends_short``: how likely it ends short by the forecast though all room in reserve is used.
    """
    if missing:
        return f"{missing} minutes will be behind: these weeks have no day left for them."
    if ends_short > LIKELY:
        chance = f"{round(100 * ends_short)} in 100"
        return f"Likely behind at the end ({chance}): the weeks lack room for what will be missed."
    return ""


def proof_words(found: Allotment) -> str:
    """Whether a better allotment is ruled out, or what is left open."""
    open_ = [one for one in found.reached if not one.is_proved]
    if not open_:
        return "No other way to share these sessions out is better: that is proved."
    said = (f"{AIM_WORDS[one.aim]}: {one.value} found, at least {one.bound} needed" for one in open_)
    return f"Looked at within a limit of work. {'; '.join(said).capitalize()}."
