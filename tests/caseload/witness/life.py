"""What happened in the life of one service: plain values that know nothing of the program."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

ONE_DAY = dt.timedelta(days=1)


def days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    """Each date from one to another, both included."""
    while first <= last:
        yield first
        first += ONE_DAY


@dataclass(frozen=True)
class Stretch:
    """Days from one to another, both included."""

    first: dt.date
    last: dt.date

    def __contains__(self, day: object) -> bool:
        """Whether a date lies in it."""
        return isinstance(day, dt.date) and self.first <= day <= self.last


@dataclass(frozen=True)
class Deal:
    """What a plan says: `times` of `minutes`, or `total` minutes, in each `unit`.

    Units: day, week, weeks (`of` weeks in one; with `on` only in so many of them), cycle (of `length` school days,
    None: the building's), month, marking_period, quarter, trimester, semester, year, service.
    """

    unit: str
    times: int | None = None
    minutes: int = 0
    total: int = 0
    on: int | None = None
    of: int = 0
    length: int | None = None

    @property
    def once(self) -> int:
        """Minutes of one whole period; of one week where it is so many of a turn of weeks."""
        return self.total if self.times is None else self.times * self.minutes


@dataclass(frozen=True)
class Version:
    """A deal from a first to a last day, in a plan."""

    deal: Deal
    first: dt.date
    last: dt.date
    plan: str = "A"


@dataclass(frozen=True)
class Year:
    """A school year: its ends, marking periods, and the turns of the building's rotation with their length."""

    first: dt.date
    last: dt.date
    marking: tuple[Stretch, ...]
    turns: tuple[Stretch, ...]

    def __contains__(self, day: object) -> bool:
        """Whether a date lies in it."""
        return isinstance(day, dt.date) and self.first <= day <= self.last


@dataclass(frozen=True)
class RuleSet:
    """A district's rules: `short` is scheduled, proportion or whole; reasons map to owed, not_owed or team."""

    short: str
    reasons: Mapping[str, str]
    carry: bool = False
    least: int = 0


@dataclass(frozen=True)
class Lesson:
    """A planned session, or a make-up. `given` is None without a log, `team` what the team decided."""

    day: dt.date
    minutes: int
    given: int | None = None
    reason: str = ""
    team: str = ""
    make_up: bool = False
    booked_for: dt.date | None = None


@dataclass(frozen=True)
class Life:
    """Everything about one service: `at` is in which building the student was when, `open_days` are each one's.

    `rules` hold from their days on, the first since ever; `counts_from` is the day that the ledger counts from.
    """

    versions: tuple[Version, ...]
    years: tuple[Year, ...]
    open_days: tuple[frozenset[dt.date], ...]
    at: tuple[tuple[int, Stretch], ...]
    rules: tuple[tuple[dt.date, RuleSet], ...]
    lessons: tuple[Lesson, ...]
    as_of: dt.date
    counts_from: dt.date
    rotation: int = 0

    def rules_on(self, day: dt.date) -> RuleSet:
        """The rules that hold on a date."""
        held = self.rules[0][1]
        for first, rules in self.rules:
            if first <= day:
                held = rules
        return held

    def building_on(self, day: dt.date) -> int | None:
        """In which building the student was on a date, None while away."""
        return next((place for place, stay in self.at if day in stay), None)

    def building_near(self, day: dt.date) -> int:
        """The same; while away the one where the student was last, before the first day the one to come."""
        here = self.building_on(day)
        if here is not None:
            return here
        before = [(stay.last, place) for place, stay in self.at if stay.last < day]
        return max(before)[1] if before else min((stay.first, place) for place, stay in self.at)[1]

    @cached_property
    def school_days(self) -> frozenset[dt.date]:
        """The dates in session where the student is."""
        return frozenset(
            day
            for day in {*self.open_days[0], *self.open_days[1]}
            if day in self.open_days[self.building_near(day)]
        )

    @cached_property
    def in_force(self) -> dict[dt.date, Version]:
        """The version that is in force and counted, by each date that has one."""
        return {
            day: version
            for version in self.versions
            for day in days(max(version.first, self.counts_from), version.last)
            if self.building_on(day) is not None
        }

    @cached_property
    def ways(self) -> dict[Version, str]:
        """In which periods each version counts: those of one way that follow each other share them."""
        ways = [self._way(one) for one in self.versions]
        return {
            one: f"{ways[n]} {sum(before != after for before, after in pairwise(ways[: n + 1]))}"
            for n, one in enumerate(self.versions)
        }

    def begins(self, version: Version) -> dt.date:
        """The first day of the versions that share their periods with one."""
        return next(one.first for one in self.versions if self.ways[one] == self.ways[version])

    def ends(self, version: Version) -> dt.date:
        """The last day of the versions that share their periods with one."""
        return max(one.last for one in self.versions if self.ways[one] == self.ways[version])

    def _way(self, version: Version) -> str:
        deal = version.deal
        ways = {
            "weeks": f"{deal.of} weeks",
            "cycle": f"cycle of {deal.length or 'its own length'}",
            "service": f"service of plan {version.plan}",
        }
        return ways.get(deal.unit, deal.unit)

    @property
    def asked_years(self) -> tuple[Year, ...]:
        """The school years that have begun by the date of the report, at least the first."""
        return tuple(year for year in self.years if year.first <= self.as_of) or self.years[:1]
