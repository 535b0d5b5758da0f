"""The ledger against a second one, written from the docs alone, on thousands of random lives of a service.

A life has amendments, hand-overs, a gap, a move to another school, closings before and after planning, a
withdrawal, missed sessions of each kind, make-ups with and without a booking, and two school years.
"""

import datetime as dt
from collections import Counter
from random import Random

import pytest

from caseload.ledger.ledger import build_ledger
from caseload.ledger.terms import (
    Effect,
    Ledger,
    LedgerCalendar,
    LedgerLine,
    LedgerRules,
    SessionRecord,
    ShortWeek,
    Span,
    Terms,
)
from caseload.plans.frequency import Frequency, FrequencyUnit
from tests.caseload.small_ledger import Account, Held, Version, Year, small_ledger

LIVES = 4000
SPRING = (dt.date(2027, 5, 3), dt.date(2027, 6, 16))
AUTUMN = (dt.date(2027, 9, 1), dt.date(2027, 11, 24))
REASONS = {"owed": "trip", "not_owed": "absent", "team": "other"}
EFFECTS = {"trip": Effect.OWED, "absent": Effect.NOT_OWED, "other": Effect.TEAM}
FIGURES = ("owed", "made_up", "carried", "rounding", "not_owed", "undecided", "ahead")
ONE_DAY = dt.timedelta(days=1)


def between(first: dt.date, last: dt.date) -> list[dt.date]:
    """Every date, both ends included."""
    return [first + ONE_DAY * n for n in range((last - first).days + 1)]


def a_year(random: Random, first: dt.date, last: dt.date) -> Year:
    """A school year of two schools: the student moves on a day, and each school has closings of its own."""
    move = random.choice(between(first, last))
    days = set()
    for stays in ((first, move - ONE_DAY), (move, last)):
        school = [day for day in between(first, last) if day.weekday() < 5 and random.random() > 0.07]
        recess = random.choice(school)
        away = set(between(recess, recess + ONE_DAY * random.choice([0, 4, 11])))
        days |= {day for day in school if stays[0] <= day <= stays[1] and day not in away}
    return Year(first, last, frozenset(days))


def versions_of(random: Random) -> list[Version]:
    """One to four versions that follow each other, perhaps with a gap; the last may end before the year does."""
    day = random.choice(between(SPRING[0] - ONE_DAY * 20, SPRING[1]))
    found: list[Version] = []
    units = random.choice([["week"], ["week", "month"], ["day"], ["day", "week"], ["month"]])
    for _ in range(random.randint(1, 4)):
        last = day + ONE_DAY * random.randint(0, 110)
        times, minutes = random.choice([1, 2, 2, 3, 5, 7]), random.choice([10, 20, 30, 45])
        if found and random.random() < 0.4:
            unit, times, minutes = found[-1].unit, found[-1].times, found[-1].minutes
        else:
            unit = random.choice(units)
        found.append(Version(unit, times if unit != "day" else 1, minutes, day, last))
        day = last + ONE_DAY * random.choice([1, 1, 1, 9])
    return found


def sessions_of(random: Random, versions: list[Version], years: list[Year]) -> list[Held]:
    """Sessions on days of the service, some on days that closed since, and make-ups."""
    found, served = [], [day for one in versions for day in between(one.first, one.last)]
    inside = [day for day in served if any(year.first <= day <= year.last for year in years) and day.weekday() < 5]
    for day in inside:
        if random.random() < 0.45:
            planned = random.choice([20, 30, 45])
            delivered = random.choice([None, planned, planned, planned, 0, 0, planned - 10, planned + 15])
            found.append(Held(day, planned, delivered, random.choice(list(REASONS))))
    for _ in range(random.randint(0, 4)):
        if inside:
            pays = random.choice([None, random.choice(inside)])
            day = random.choice(between(min(inside), AUTUMN[1]))
            found.append(Held(day, 30, random.choice([None, 15, 30, 45]), make_up=True, pays=pays))
    return found


def record(number: int, one: Held) -> SessionRecord:
    """The same session as the program's core takes it."""
    missed = one.delivered is not None and one.delivered < one.planned
    return SessionRecord(
        f"{number:03}",
        one.day,
        one.planned,
        one.delivered,
        REASONS[one.effect] if missed else "",
        None,
        one.make_up,
        one.pays,
    )


def service_of(versions: list[Version]) -> LedgerLine:
    """The same service as the program's core takes it."""
    return LedgerLine(
        "S",
        tuple(
            Terms(
                str(n),
                Frequency(times=one.times, minutes=one.minutes, unit=FrequencyUnit(one.unit)),
                one.first,
                one.last,
            )
            for n, one in enumerate(versions)
        ),
    )


def told(ledger: Ledger) -> list[tuple[object, ...]]:
    """What the program says of each period."""
    return sorted(
        (
            one.span.first,
            one.owed,
            one.due,
            one.delivered,
            one.not_owed + one.undecided,
            one.made_up,
            one.carried,
            one.rounding,
            one.still_owed,
            one.ahead,
        )
        for one in ledger.periods
    )


def small(accounts: list[Account]) -> list[tuple[object, ...]]:
    """What the second ledger says of each."""
    return sorted(
        (
            one.first,
            one.owed,
            one.due,
            one.delivered,
            one.excused,
            one.made_up,
            one.carried,
            one.rounding,
            one.gap - one.rounding,
            one.over,
        )
        for one in accounts
    )


@pytest.mark.parametrize("part", range(4))
def test_two_ledgers_agree_on_thousands_of_lives(part: int) -> None:
    """Period by period: owed, due, delivered, made up, carried, rounding, still owed; and what last year left."""
    seen: Counter[str] = Counter()
    for seed in range(part * LIVES // 4, (part + 1) * LIVES // 4):
        random = Random(seed)  # noqa: S311 - lives that can be lived again, no secret
        years = [a_year(random, *SPRING), a_year(random, *AUTUMN)]
        versions = versions_of(random)
        as_of = random.choice(between(*AUTUMN))
        held = sessions_of(random, versions, years)
        rule, carries, least = random.choice(list(ShortWeek)), random.random() < 0.3, random.choice([0, 10, 15])
        accounts, left, spare = small_ledger(versions, years, held, rule.value, as_of, carries, least)
        last_year, this_year = (
            LedgerCalendar(Span(str(year.first), year.first, year.last), year.open) for year in years
        )
        rules = LedgerRules(rule, EFFECTS, carries, {}, least)
        records = [record(n, one) for n, one in enumerate(held)]
        ledger = build_ledger(service_of(versions), this_year, rules, records, as_of, [last_year])
        assert told(ledger) == small(accounts), f"life {seed}, {rule}, up to {as_of}"
        assert (ledger.opening, ledger.spare_make_up) == (sum(left), spare), f"life {seed}"
        seen.update(name for name in FIGURES if ledger.total(name))
        seen["opening"] += bool(ledger.opening)
        seen["shared"] += any(len(one.versions) > 1 for one in accounts)
    assert all(seen[name] >= 5 for name in (*FIGURES, "opening", "shared")), seen
