"""A life on which the two ledgers differ, cut down to the least that still shows it."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

from tests.caseload.witness.life import Lesson, Life, RuleSet, Stretch, days
from tests.caseload.witness.second_ledger import period_of

ALWAYS = Stretch(dt.date(2000, 1, 1), dt.date(2040, 1, 1))


def smallest(life: Life, differs: Callable[[Life], bool]) -> Life:
    """Leave out whatever can go, one thing at a time, until nothing can."""
    while True:
        found = next((one for one in _smaller(life) if _could_be(one) and differs(one)), None)
        if found is None:
            return life
        life = found


def _could_be(life: Life) -> bool:
    """Whether what is left of a life is one: each session and each booking lies in a period of the service."""
    counted = {day for year in life.years for day in days(year.first, year.last) if period_of(life, year, day)}
    asked = [one.booked_for if one.make_up else one.day for one in life.lessons]
    return bool(counted) and counted.issuperset(day for day in asked if day is not None)


def _smaller(life: Life) -> Iterator[Life]:
    """A life with one thing less."""
    if len(life.years) > 1:
        yield replace(life, years=life.years[:-1])
        yield replace(life, years=life.years[1:])
    for name in ("versions", "lessons", "rules", "at"):
        held = getattr(life, name)
        for n in range(len(held)):
            if len(held) > 1 or name == "lessons":
                yield replace(life, **{name: held[:n] + held[n + 1 :]})
    yield from _simpler(life)


def _simpler(life: Life) -> Iterator[Life]:
    if life.counts_from > ALWAYS.first:
        yield replace(life, counts_from=ALWAYS.first)
    place, stay = life.at[0]
    if len(life.at) == 1 and stay != ALWAYS:
        yield replace(life, at=((place, ALWAYS),))
    weekdays = life.open_days[0] | life.open_days[1]
    if life.open_days != (weekdays, weekdays):
        yield replace(life, open_days=(weekdays, weekdays))
    yield from _plainer(life, "rules", _plain_rules)
    yield from _plainer(life, "lessons", _plain_lessons)


def _plainer(life: Life, name: str, plain: Callable[[Any], Iterable[Any]]) -> Iterator[Life]:
    """A life with one of its rules or lessons plainer."""
    held = getattr(life, name)
    for n, one in enumerate(held):
        for other in plain(one):
            if other != one:
                changed: dict[str, Any] = {name: (*held[:n], other, *held[n + 1 :])}
                yield replace(life, **changed)


def _plain_rules(dated: tuple[dt.date, RuleSet]) -> Iterable[tuple[dt.date, RuleSet]]:
    first, rules = dated
    return (first, replace(rules, carry=False)), (first, replace(rules, least=0))


def _plain_lessons(one: Lesson) -> Iterable[Lesson]:
    return replace(one, team=""), replace(one, booked_for=None), replace(one, given=one.minutes)


def told(life: Life) -> str:
    """A life in words that a person can follow."""
    lines = [f"as of {life.as_of:%a} {life.as_of}, counts from {life.counts_from}, rotation {life.rotation}"]
    lines += [f"year {one.first:%a} {one.first} to {one.last:%a} {one.last}" for one in life.years]
    lines += [
        f"{one.deal} {one.first:%a} {one.first} to {one.last:%a} {one.last} plan {one.plan}"
        for one in life.versions
    ]
    lines += [f"building {place} {stay.first} to {stay.last}" for place, stay in life.at]
    lines += [f"from {first}: {rules}" for first, rules in life.rules]
    lines += [f"{one.day:%a} {one}" for one in sorted(life.lessons, key=lambda lesson: lesson.day)]
    return "\n".join(lines)
