"""A second, small ledger written from docs/minutes-ledger.md alone: it imports nothing of the program.

It walks days and keeps fractions, where the program counts positions and keeps integers. Minutes throughout;
rounding is halves up, at the one place where the docs round. Units: "day", "week", "month".
"""

import datetime as dt
from dataclasses import dataclass, field
from fractions import Fraction
from math import floor


@dataclass(frozen=True)
class Version:
    """What is owed between two dates, both included: `times` sessions of `minutes` each in a unit."""

    unit: str
    times: int
    minutes: int
    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class Held:
    """A planned session, or a make-up (`pays` is the day that it was booked for), with what became of it.

    `delivered` is None while it has no log; `effect` is what its missed minutes do: owed, not_owed, team.
    """

    day: dt.date
    planned: int
    delivered: int | None = None
    effect: str = "owed"
    make_up: bool = False
    pays: dt.date | None = None


@dataclass
class Year:
    """A school year: its days in session between two dates."""

    first: dt.date
    last: dt.date
    open: frozenset[dt.date]


@dataclass
class Account:
    """One period: its days, the versions in it, and its figures."""

    first: dt.date
    last: dt.date
    versions: list[Version]
    year: Year
    owed: int = 0
    due: int = 0
    delivered: int = 0
    excused: int = 0
    made_up: int = 0
    carried: int = 0
    given_on: int = 0
    rounding: int = 0
    held: list[Held] = field(default_factory=list)

    @property
    def gap(self) -> int:
        """What nothing answers."""
        return max(0, self.due - self.delivered - self.excused - self.made_up - self.carried)

    @property
    def over(self) -> int:
        """Delivered above what is owed, and not given to others."""
        return max(0, self.delivered - self.owed) - self.given_on


def half_up(value: Fraction) -> int:
    """The nearest whole minute, halves up."""
    return floor(value + Fraction(1, 2))


def version_on(versions: list[Version], day: dt.date) -> Version | None:
    """Which version a day is owed by."""
    return next((one for one in versions if one.first <= day <= one.last), None)


def period_of(unit: str, day: dt.date) -> tuple[dt.date, dt.date]:
    """First and last day of the week or month."""
    if unit == "month":
        first = day.replace(day=1)
        return first, (first + dt.timedelta(days=32)).replace(day=1) - dt.timedelta(days=1)
    monday = day - dt.timedelta(days=day.weekday())
    return monday, monday + dt.timedelta(days=6)


def accounts_of(versions: list[Version], year: Year) -> list[Account]:
    """The periods of a year, oldest first: one run of versions in the same unit shares them."""
    runs: list[list[Version]] = []
    for one in versions:
        if runs and runs[-1][-1].unit == one.unit:
            runs[-1].append(one)
        else:
            runs.append([one])
    found: dict[tuple[int, dt.date], Account] = {}
    day = year.first
    while day <= year.last:
        for number, run in enumerate(runs):
            if run[0].first <= day <= run[-1].last:
                first, last = period_of(run[0].unit, day)
                inside = [one for one in run if one.first <= last and one.last >= first]
                if inside:
                    found.setdefault((number, first), Account(first, last, inside, year))
        day += dt.timedelta(days=1)
    return list(found.values())


def days_of(one: Account) -> list[dt.date]:
    """Monday to Friday of a period."""
    count = (one.last - one.first).days + 1
    days = [one.first + dt.timedelta(days=n) for n in range(count)]
    return [day for day in days if day.weekday() < 5]


def spread(one: Account, among: list[dt.date], given: set[dt.date], whole_days: int) -> int:
    """The minutes of some days: each has the same part of the period, and a run of them is rounded at its ends."""
    amounts = {version.times * version.minutes for version in one.versions}
    if len(amounts) == 1:
        part = Fraction(amounts.pop(), whole_days)
        total = Fraction(0)
        sum_to, minutes = 0, 0
        for day in among:
            total += part
            rounded = half_up(total)
            if day in given:
                minutes += rounded - sum_to
            sum_to = rounded
        return minutes
    exact = Fraction(0)
    for day in given:
        later = [version for version in one.versions if day <= version.last]
        version = later[0] if later else one.versions[-1]
        exact += Fraction(version.times * version.minutes, whole_days)
    return half_up(exact)


def owes(one: Account, rule: str, open_: frozenset[dt.date], placed: int) -> int:
    """Minutes that a period owes when these days are in session and so much was placed on them."""
    days = days_of(one)
    school = [day for day in days if day in open_]
    served = {day for day in school if version_on(one.versions, day)}
    unit = one.versions[0].unit
    if not served:
        return 0
    if unit == "day":
        found = [version_on(one.versions, day) for day in served]
        return sum(version.times * version.minutes for version in found if version)
    if unit == "month":
        most = max(-(-version.times // len(days)) * version.minutes for version in one.versions)
        return min(spread(one, school, served, len(school)), most * len(served))
    if rule == "whole":
        return spread(one, school, served, len(school))
    if rule == "proportion":
        return spread(one, school, served, len(days))
    base = spread(one, days, {day for day in days if day not in school or day in served}, len(days))
    closed = len(days) - len(school)
    if closed == 0:
        return base
    a_day = max(-(-version.times // 5) * version.minutes for version in one.versions)
    return max(min(placed, base), base - closed * a_day)


def settle(one: Account, rule: str, as_of: dt.date) -> None:
    """A period's figures up to a date, before make-ups."""
    known = [held for held in one.held if held.day <= as_of]

    def stands(held: Held) -> bool:
        return held.day in one.year.open or (held.day <= as_of and (held.delivered or 0) > 0)

    placed = sum(held.planned for held in one.held if stands(held))
    one.owed = owes(one, rule, one.year.open, placed)
    to_date = sum(held.planned for held in known if stands(held))
    ends = min(one.last, one.versions[-1].last, one.year.last)
    one.due = one.owed if as_of >= ends else min(one.owed, to_date)
    one.delivered = sum(held.delivered or 0 for held in known)
    lost = [held for held in known if held.delivered is not None and held.delivered < held.planned]
    one.excused = sum(held.planned - (held.delivered or 0) for held in lost if held.effect != "owed")
    shut = [held for held in lost if not stands(held)]
    if shut:
        was_open = one.year.open | {held.day for held in shut}
        already = owes(one, rule, was_open, placed + sum(held.planned for held in shut)) - one.owed
        of_shut = sum(held.planned - (held.delivered or 0) for held in shut if held.effect != "owed")
        one.excused -= min(max(already, 0), of_shut)


def round_off(one: Account, least: int, as_of: dt.date) -> None:
    """Too little for a session, where a period that is over owes a share, is rounding."""
    whole = max(version.times * version.minutes for version in one.versions)
    ends = min(one.last, one.versions[-1].last, one.year.last)
    is_share = one.versions[0].unit != "day" and one.owed != whole
    if is_share and 0 < one.gap < least and as_of >= ends:
        one.rounding = one.gap


def holding(accounts: list[Account], day: dt.date) -> list[Account]:
    """The periods that hold a day, that of the version in force first."""
    found = [one for one in accounts if one.first <= day <= one.last]
    return sorted(found, key=lambda one: version_on(one.versions, day) is None)


def pay(accounts: list[Account], make_ups: list[Held]) -> int:
    """Hand make-ups out: each to its booking, then all that is left to the oldest gaps. What is over comes back."""
    rest = 0
    for one in make_ups:
        minutes = one.delivered or 0
        for account in holding(accounts, one.pays)[:1] if one.pays else []:
            part = min(minutes, account.gap)
            account.made_up += part
            minutes -= part
        rest += minutes
    for account in accounts:
        part = min(rest, account.gap)
        account.made_up += part
        rest -= part
    return rest


def carry(accounts: list[Account]) -> None:
    """Minutes above fill the oldest gaps of the year."""
    above = sum(account.over for account in accounts)
    taken = 0
    for account in accounts:
        part = min(above - taken, account.gap)
        account.carried += part
        taken += part
    for account in accounts:
        part = min(taken, account.over)
        account.given_on += part
        taken -= part


def small_ledger(
    versions: list[Version],
    years: list[Year],
    held: list[Held],
    rule: str,
    as_of: dt.date,
    carries: bool = False,
    least: int = 0,
) -> tuple[list[Account], list[int], int]:
    """The accounts of the last year; what each earlier year has open; make-up minutes to spare."""
    every: list[Account] = []
    opened: list[list[Account]] = []
    spare, since = 0, dt.date.min
    for year in years:
        mine = accounts_of(versions, year)
        for one in held:
            if not one.make_up:
                for account in holding(mine, one.day)[:1]:
                    account.held.append(one)
        mine = [account for account in mine if account.first <= as_of]
        for account in mine:
            settle(account, rule, as_of)
        every += mine
        until = as_of if year is years[-1] else year.last
        make_ups = [one for one in held if one.make_up and one.delivered and since < one.day <= until]
        spare = pay(every, sorted(make_ups, key=lambda one: one.day))
        if carries:
            carry(mine)
        opened.append(mine)
        since = until
    for account in every:
        round_off(account, least, as_of)
    return opened[-1], [sum(one.gap - one.rounding for one in mine) for mine in opened[:-1]], spare
