"""Random lives: as much of what happens to a service in a few weeks as can, the same for the same seed."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace
from random import Random

from tests.caseload.witness.life import ONE_DAY, Deal, Lesson, Life, RuleSet, Stretch, Version, Year, days
from tests.caseload.witness.second_ledger import period_of, turns

REASONS = ("ill", "teacher", "closed", "testing", "declined", "unknown")
EFFECTS = ("owed", "not_owed", "team")


def random_life(seed: int) -> Life:
    """The life of one service."""
    luck = Random(seed)  # noqa: S311 - chance, no secret
    years = _years(luck)
    first, last = years[0].first, years[-1].last
    versions = _versions(luck, first, last, len(years) > 1)
    open_days = tuple(_open_days(luck, years) for _ in range(2))
    asked = luck.choice(years)
    life = Life(
        versions=versions,
        years=years,
        open_days=open_days,
        at=_whereabouts(luck, first, last),
        rules=_rules(luck, first, last),
        lessons=(),
        as_of=_day(luck, asked.first - 3 * ONE_DAY, asked.last + 15 * ONE_DAY),
        counts_from=_day(luck, first, first + 20 * ONE_DAY) if luck.random() < 0.2 else first - 100 * ONE_DAY,
        rotation=luck.choice((3, 4, 6)),
    )
    if not life.in_force:
        life = replace(life, counts_from=first, at=((0, Stretch(first - 60 * ONE_DAY, last + 60 * ONE_DAY)),))
    life = replace(life, years=tuple(_with_turns(life, year) for year in years))
    return replace(life, lessons=tuple(_lessons(luck, life)))


def _day(luck: Random, first: dt.date, last: dt.date) -> dt.date:
    return first + luck.randint(0, max((last - first).days, 0)) * ONE_DAY


def _years(luck: Random) -> tuple[Year, ...]:
    """One school year, or two with a summer between them; shorter ones than people have, so that more happens."""
    found = []
    first = dt.date(2026, 8, 31) + luck.randint(0, 13) * ONE_DAY
    for _ in range(luck.choice((1, 1, 2))):
        last = first + luck.randint(30, 110) * ONE_DAY
        found.append(Year(first, last, _parts(first, last, 12), ()))
        first = last + luck.randint(40, 70) * ONE_DAY
    return tuple(found)


def _parts(first: dt.date, last: dt.date, number: int) -> tuple[Stretch, ...]:
    """Marking periods that cover a year."""
    length = ((last - first).days + 1) // number
    firsts = [first + n * length * ONE_DAY for n in range(number)]
    return tuple(
        Stretch(one, after - ONE_DAY) for one, after in zip(firsts, [*firsts[1:], last + ONE_DAY], strict=True)
    )


def _with_turns(life: Life, year: Year) -> Year:
    """The year with the turns of its first building's rotation."""
    school = [day for day in days(year.first, year.last) if day in life.open_days[0]]
    return replace(year, turns=tuple(turns(school, life.rotation, year.last)))


def _open_days(luck: Random, years: Sequence[Year]) -> frozenset[dt.date]:
    """Weekdays without single closed days, and without a week or two."""
    often = luck.choice((0.0, 0.05, 0.15, 0.4))
    found = []
    for year in years:
        recess = _day(luck, year.first, year.last)
        for day in days(year.first, year.last):
            off = 0 <= (day - recess).days < 7 * luck.randint(0, 2)
            if day.weekday() < 5 and not off and luck.random() >= often:
                found.append(day)
    return frozenset(found)


def _deal(luck: Random, with_service: bool) -> Deal:
    times, minutes = luck.randint(1, 6), luck.choice((7, 10, 15, 20, 30, 45))
    in_all = Deal("week", total=luck.randint(10, 200))
    deal = in_all if luck.random() < 0.25 else Deal("week", times, minutes)
    unit = luck.choice(
        (
            "week",
            "week",
            "week",
            "day",
            "weeks",
            "weeks",
            "cycle",
            "month",
            "marking_period",
            "quarter",
            "trimester",
            "semester",
            "year",
            "service",
        )
    )
    if unit == "service" and not with_service:
        unit = "week"
    if unit == "day":
        return Deal("day", luck.randint(1, 2), minutes)
    if unit == "weeks":
        of = luck.randint(2, 4)
        return replace(deal, unit=unit, of=of, on=luck.choice((None, luck.randint(1, of - 1))))
    if unit == "cycle":
        return replace(deal, unit=unit, length=luck.choice((None, 3, 5, 6)))
    if unit in {"year", "service", "semester", "trimester"} and deal.times is not None:
        return replace(deal, unit=unit, times=deal.times * luck.randint(1, 6))
    return replace(deal, unit=unit)


def _versions(luck: Random, first: dt.date, last: dt.date, two_years: bool) -> tuple[Version, ...]:
    """One to four versions after each other, often with the same deal, at times with days between them."""
    number = luck.randint(1, 4)
    begin = _day(luck, first - 30 * ONE_DAY, first + 20 * ONE_DAY)
    found: list[Version] = []
    deal, plan = _deal(luck, not two_years), "A"
    for n in range(number):
        length = luck.choice((3, 10, 25, 60, 200)) + luck.randint(0, 10)
        end = last + luck.randint(-20, 20) * ONE_DAY if n == number - 1 else begin + length * ONE_DAY
        end = max(begin, end)
        found.append(Version(deal, begin, end, plan))
        begin = end + luck.choice((1, 1, 1, 3, 9)) * ONE_DAY
        if luck.random() < 0.3:
            plan = chr(ord(plan) + 1)
        if luck.random() < 0.6:
            deal = _deal(luck, not two_years)
    return tuple(found)


def _whereabouts(luck: Random, first: dt.date, last: dt.date) -> tuple[tuple[int, Stretch], ...]:
    """At one building from before until after, or moved to the other and back, at times with days away."""
    found: list[tuple[int, Stretch]] = []
    begin = first - 60 * ONE_DAY if luck.random() < 0.8 else first + luck.randint(0, 12) * ONE_DAY
    place = luck.randint(0, 1)
    for _ in range(luck.choice((0, 0, 1, 2))):
        end = _day(luck, max(begin, first), last)
        found.append((place, Stretch(begin, end)))
        begin = end + luck.choice((1, 1, 4, 12)) * ONE_DAY
        place = 1 - place if luck.random() < 0.7 else place
    end = last + 60 * ONE_DAY if luck.random() < 0.8 else last - luck.randint(0, 20) * ONE_DAY
    found.append((place, Stretch(begin, max(begin, end))))
    return tuple(found)


def _rules(luck: Random, first: dt.date, last: dt.date) -> tuple[tuple[dt.date, RuleSet], ...]:
    """One set of rules, or two with another from some day on."""
    found = [(dt.date(2000, 1, 1), _rule_set(luck))]
    if luck.random() < 0.3:
        found.append((_day(luck, first, last), _rule_set(luck)))
    return tuple(found)


def _rule_set(luck: Random) -> RuleSet:
    reasons = {reason: luck.choice(EFFECTS) for reason in REASONS if reason != "unknown"}
    short = luck.choice(("scheduled", "scheduled", "proportion", "whole"))
    return RuleSet(short, reasons, luck.random() < 0.4, luck.choice((0, 10, 10, 15)))


def _lessons(luck: Random, life: Life) -> Iterator[Lesson]:
    """Sessions on days on which the service is in force, some of them closed by now; and make-ups on any day."""
    often = luck.choice((0.1, 0.3, 0.5))
    cared = luck.choice((0.5, 0.9, 1.0))
    held: list[dt.date] = []
    for year in life.years:
        for day in days(year.first, year.last):
            version = life.in_force.get(day)
            if day.weekday() > 4 or version is None or luck.random() > often or period_of(life, year, day) is None:
                continue
            if day in life.school_days or luck.random() < 0.4:
                held.append(day)
                yield from _lesson(luck, life, day, version.deal.minutes or 30, cared)
    for _ in range(luck.choice((0, 0, 1, 3, 6))):
        day = _day(luck, life.years[0].first, life.years[-1].last + 10 * ONE_DAY)
        minutes = luck.choice((10, 20, 30, 60))
        given = luck.choice((None, 0, minutes, minutes, minutes, minutes - 5, minutes + 10))
        before = [one for one in held if one < day]
        booked = luck.choice([*before, None]) if luck.random() < 0.6 and before else None
        yield Lesson(day, minutes, given, make_up=True, booked_for=booked)


def _lesson(luck: Random, life: Life, day: dt.date, minutes: int, cared: float) -> Iterator[Lesson]:
    minutes = luck.choice((minutes, minutes, minutes, 12, 60))
    if day not in life.school_days:
        given = luck.choice((0, 0, 0, 0, minutes, None))
        yield Lesson(day, minutes, given, "closed", luck.choice(("", "", "", *EFFECTS[:2])))
    elif luck.random() > cared:
        reason = luck.choice(REASONS)
        given = luck.choice((0, 0, minutes // 2, minutes - 1))
        yield Lesson(day, minutes, given, reason, luck.choice(("", "", "", *EFFECTS[:2])))
    elif luck.random() < 0.1:
        yield Lesson(day, minutes)
    else:
        yield Lesson(day, minutes, luck.choice((minutes, minutes, minutes, minutes + 10)))
    if luck.random() < 0.05:
        yield Lesson(day, 0, luck.choice((5, 30)))
