"""Whose lunches a week is led to: of those who want lunch together, in weeks in force, else in drafts."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from accounts.models import Person
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.words import clock_words, listed
from schedule.meetings.selectors import LunchWish, lunch_wishes
from schedule.planner.problem import Problem
from schedule.planner.together.lunch import LunchChoice, LunchCost, LunchOffer, LunchRefused, LunchWeek, lunch_fits
from schedule.weeks.models import DayItem, WeekPlan
from schedule.weeks.planning.others.under_way import drafts_under_way

TO_SUNDAY = dt.timedelta(days=6)
COSTS = {
    LunchCost.NO_WEEK: "then you can't have yours there",
    LunchCost.UNPLACED: "{} minutes more would have no place",
    LunchCost.WISHES: "it would miss {} minutes more of your contract's wishes",
    LunchCost.CHANGE: "{} more would leave the usual time",
    LunchCost.DRIVING: "it would take {} minutes more at the wheel",
    LunchCost.NOT_LOOKED: "the time for planning was over before that was looked at",
}


@dataclass(frozen=True, slots=True)
class LunchHeld:
    """A teacher's planned lunch."""

    teacher: int
    date: dt.date
    at: int
    building: int
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class LunchesWanted:
    """What a teacher wants of a week, and when the others have lunch in it. ``places``: buildings by code."""

    wishes: Sequence[LunchWish] = ()
    held: Sequence[LunchHeld] = ()
    places: Mapping[str, str] = field(default_factory=dict)

    @property
    def names(self) -> dict[str, str]:
        """The others by the ids that the planner knows."""
        return {str(one.pk): str(one) for wish in self.wishes for one in wish.mates}

    def offers(self) -> list[LunchOffer]:
        """Each lunch that is wanted, once: for as much as the wish that gives most for it."""
        worth: dict[tuple[str, str, int, str], int] = defaultdict(int)
        for one in self.held:
            for wish in self.wishes:
                if is_wanted(wish, one):
                    key = str(one.teacher), one.date.isoformat(), one.at, one.code
                    worth[key] = max(worth[key], wish.row.worth_minutes)
        return [LunchOffer(*key, minutes) for key, minutes in sorted(worth.items())]

    def told(self, week: LunchWeek, problem: Problem) -> list[str]:
        """What became of each lunch that is wanted, in words."""
        had = [self._had_words(one, problem) for one in week.had]
        more = f"Lunch together takes {week.added_drive} minutes more at the wheel." if week.added_drive > 0 else ""
        refused = [self._refused_words(one, problem) for one in week.refused]
        return [*had, *([more] if more else []), *refused, *self._never(problem), *self._without_week()]

    def _had_words(self, one: LunchChoice, problem: Problem) -> str:
        return (
            f"{problem.name_of_day(one.day)}: lunch with {self._whom(one.whom)} {self._where(one.at, one.place)}."
        )

    def _refused_words(self, one: LunchRefused, problem: Problem) -> str:
        choice, sessions = one.choice, f"{one.amount} session{'' if one.amount == 1 else 's'}"
        cost = COSTS[one.cost].format(sessions if one.cost is LunchCost.CHANGE else one.amount)
        whom, where = self._whom(choice.whom), self._where(choice.at, choice.place)
        have = "has" if len(choice.whom) == 1 else "have"
        return f"{problem.name_of_day(choice.day)}: no lunch with {whom}, who {have} it {where}: {cost}."

    def _never(self, problem: Problem) -> list[str]:
        """Lunches of others that are outside what the own day allows; where another fits, nothing is said."""
        outside = [
            one
            for one in self.offers()
            if problem.has_day(one.day) and not lunch_fits(problem, problem.day(one.day), one.at, one.place)
        ]
        fits = {one.day for one in self.offers()} - {one.day for one in outside}
        return [
            f"{problem.name_of_day(one.day)}: no lunch with {self._whom([one.who])}, who has it "
            f"{self._where(one.at, one.place)}: that is outside your lunch hours, or you aren't there that week."
            for one in outside
            if one.day not in fits
        ]

    def _without_week(self) -> list[str]:
        known = {str(one.teacher) for one in self.held}
        missing = sorted(name for key, name in self.names.items() if key not in known)
        if not missing:
            return []
        have = "has" if len(missing) == 1 else "have"
        return [f"{listed(missing)} {have} no week for then yet; lunch together waits for it."]

    def _whom(self, keys: Iterable[str]) -> str:
        return listed([self.names[key] for key in keys])

    def _where(self, at: int, place: str) -> str:
        return f"at {clock_words(at)} at {self.places.get(place, place)}"


def is_wanted(wish: LunchWish, one: LunchHeld) -> bool:
    """Whether a wish is for a lunch: of its people, its days, its school if it names one, its hours."""
    row = wish.row
    there = row.building_id in {None, one.building}
    begins = minutes_of(row.start) <= one.at < minutes_of(row.end)
    return there and begins and row.is_on(one.date) and any(mate.pk == one.teacher for mate in wish.mates)


def lunches_wanted(teacher: Person, monday: dt.date, *, drafts: bool = True) -> LunchesWanted:
    """Read it; one query where nothing is wanted.

    Of each of the others the week in force counts, or, where there is none, the draft that is being worked on.
    Without ``drafts`` the weeks in force alone.
    """
    wishes = lunch_wishes(teacher, monday, monday + TO_SUNDAY)
    if not wishes:
        return LunchesWanted()
    mates = {one.pk for wish in wishes for one in wish.mates}
    weeks = WeekPlan.objects.filter(teacher__in=mates, monday=monday)
    in_force = dict(weeks.filter(status=WeekPlan.Status.PUBLISHED).values_list("pk", "teacher"))
    known = [*in_force]
    if drafts:
        open_weeks = weeks.filter(pk__in=drafts_under_way(teacher, [monday])).exclude(teacher__in=in_force.values())
        known += open_weeks.values_list("pk", flat=True)
    held = lunches_held(known)
    return LunchesWanted(wishes, held, {one.code: one.name for one in held})


def lunches_held(weeks: Iterable[int]) -> list[LunchHeld]:
    """The lunches of some versions of weeks, by date and time."""
    rows = DayItem.objects.filter(week__in=list(weeks), kind=DayItem.Kind.LUNCH, building__isnull=False)
    fields = ("week__teacher", "date", "start", "building", "building__code", "building__name")
    return [
        LunchHeld(teacher, date, minutes_of(start), building, code, name)
        for teacher, date, start, building, code, name in rows.order_by("date", "start", "pk").values_list(*fields)
    ]
