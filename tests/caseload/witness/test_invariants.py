"""What must hold of the program's ledger in any life, whoever counts: no second ledger is asked.

Source: docs/minutes-ledger.md, sentence by sentence beside each test.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from random import Random

import pytest

from caseload.ledger.defaults import LEAST_MINUTES
from tests.caseload.witness.chance import random_life
from tests.caseload.witness.core import core_ledger, said_by_core
from tests.caseload.witness.life import ONE_DAY, Deal, Lesson, Life, RuleSet, Stretch, Version, days
from tests.caseload.witness.second_ledger import period_of

NUMBER = 400
FIRST_SEED = 1_000_000  # not those of the comparison


@cache
def lives() -> tuple[Life, ...]:
    """Random lives, made once."""
    return tuple(random_life(FIRST_SEED + n) for n in range(NUMBER))


def test_every_scheduled_minute_is_somewhere() -> None:
    """Delivered within plan + missed + not logged + to come = scheduled, in every period of every life."""
    for life in lives():
        for one in core_ledger(life).all_periods:
            within = one.delivered - one.extra
            assert within + sum(one.missed.values()) + one.unlogged + one.future == one.scheduled


def test_still_owed_is_due_less_what_answers_it() -> None:
    """Due - delivered - made up - carried - not owed - the team's - rounding, if that is more than nothing."""
    for life in lives():
        for one in core_ledger(life).all_periods:
            answered = one.delivered + one.made_up + one.carried + one.not_owed + one.undecided + one.rounding
            assert one.still_owed == max(one.due - answered, 0)
            assert 0 <= one.due <= one.owed


def test_nothing_after_the_date_is_known() -> None:
    """Up to a date a session of a later day is one to come, whatever its log says; a later make-up pays nothing."""
    for life in lives():
        later = [one for one in life.lessons if one.day > life.as_of]
        told_otherwise = [replace(one, given=one.minutes + 7, reason="teacher", team="owed") for one in later]
        known = tuple(one for one in life.lessons if one.day <= life.as_of)
        otherwise = replace(life, lessons=(*known, *told_otherwise))
        assert said_by_core(core_ledger(otherwise)) == said_by_core(core_ledger(life))


def test_ahead_never_counts_excused_minutes() -> None:
    """Whatever is excused or decided, nobody gets ahead by it: only minutes delivered above what is owed count."""
    for life in lives():
        plain = _with_rules(life, carry=False)
        strict = tuple(replace(one, team="owed") for one in plain.lessons)
        lenient = tuple(replace(one, team="not_owed") for one in plain.lessons)
        ahead = [
            [one.ahead for one in core_ledger(replace(plain, lessons=lessons)).all_periods]
            for lessons in (strict, lenient)
        ]
        assert ahead[0] == ahead[1]


def _with_rules(life: Life, **values: object) -> Life:
    return replace(life, rules=tuple((first, replace(rules, **values)) for first, rules in life.rules))  # type: ignore[arg-type]


def test_carried_minutes_are_not_ahead_any_more() -> None:
    """What some periods were given others gave, and a district that doesn't carry gives none."""
    for life in lives():
        found = core_ledger(life)
        assert sum(one.carried for one in found.periods) == sum(one.carried_on for one in found.periods)
        assert all(one.ahead >= 0 for one in found.all_periods)
        assert not any(one.carried for one in core_ledger(_with_rules(life, carry=False)).all_periods)


def test_make_ups_are_paid_out_to_the_minute() -> None:
    """In one school year: what they gave was paid to periods or is spare."""
    for life in lives():
        if len(life.asked_years) == 1:
            found = core_ledger(life)
            given = sum(one.given or 0 for one in life.lessons if one.make_up and one.day <= life.as_of)
            assert sum(one.made_up for one in found.periods) + found.spare_make_up == given


@pytest.mark.parametrize("short", ["whole", "proportion"])
def test_parts_of_a_period_add_up_to_the_whole(short: str) -> None:
    """A service that is cut in two services on any day owes neither more nor less: shares are rounded as one."""
    for life in lives():
        whole = _one_version(_with_rules(life, short=short))
        if whole is not None:
            owed = _owed(whole)
            for cut in _cuts(whole):
                (version,) = whole.versions
                before = replace(whole, versions=(replace(version, last=cut),))
                after = replace(whole, at=_away_until(whole, cut))
                parts = [_owed(before), _owed(after)]
                assert owed == {first: sum(part.get(first, 0) for part in parts) for first in owed}


def _one_version(life: Life) -> Life | None:
    """The first version of a life alone and without sessions; None where a whole service ends with its cut."""
    version = life.versions[0]
    alike = (life.open_days[0], life.open_days[0])  # who comes later was near another building before
    life = replace(life, versions=(version,), lessons=(), as_of=life.years[-1].last, open_days=alike)
    return None if version.deal.unit == "service" or len(life.asked_years) > 1 or not life.in_force else life


def _cuts(life: Life) -> list[dt.date]:
    """Two days on which a life is cut."""
    held = sorted(life.in_force)
    return [held[len(held) // 3], held[2 * len(held) // 3]]


def _away_until(life: Life, cut: dt.date) -> tuple[tuple[int, Stretch], ...]:
    """Where a student is who comes on the day after a cut."""
    return tuple(
        (place, Stretch(max(stay.first, cut + ONE_DAY), stay.last)) for place, stay in life.at if stay.last > cut
    )


def _owed(life: Life) -> dict[dt.date, int]:
    return {one.span.first: one.owed for one in core_ledger(life).periods if one.owed} if life.in_force else {}


def test_the_same_terms_renewed_change_nothing() -> None:
    """Versions of one service share their periods: cut on any day, every figure stays."""
    for life in lives():
        version = life.versions[0]
        cut = version.first + (version.last - version.first) // 2
        parts = (replace(version, last=cut), replace(version, first=cut + ONE_DAY))
        if parts[1].first <= version.last:
            renewed = replace(life, versions=(*parts, *life.versions[1:]))
            assert said_by_core(core_ledger(renewed)) == said_by_core(core_ledger(life))


def test_a_move_to_a_school_with_the_same_calendar_changes_nothing() -> None:
    """Each day goes by the calendar of the building where the student is."""
    for life in lives():
        held = _in_their_periods(replace(life, open_days=(life.open_days[0], life.open_days[0])))
        moved = replace(held, at=tuple((1 - place, stay) for place, stay in held.at))
        assert said_by_core(core_ledger(moved)) == said_by_core(core_ledger(held))


def _in_their_periods(life: Life) -> Life:
    """A life without the sessions that other days in session have left in no turn of a cycle."""
    held = {day for year in life.years for day in days(year.first, year.last) if period_of(life, year, day)}
    return replace(life, lessons=tuple(one for one in life.lessons if one.make_up or one.day in held))


# ---- whoever gave every session is not behind ------------------------------------------------------------


def test_whoever_gave_every_possible_session_is_not_behind() -> None:
    """Under the rule as shipped, in any weeks with any closed days, moves, changes and time away."""
    for seed in range(NUMBER):
        life = _diligent(seed)
        assert {one.span.first: one.still_owed for one in core_ledger(life).all_periods if one.still_owed} == {}


def _diligent(seed: int) -> Life:
    """A life in weeks by the rules as shipped, in which each day in session held as many sessions as fit."""
    luck = Random(seed)  # noqa: S311 - chance, no secret
    life = random_life(FIRST_SEED + seed)
    deals = [_weekly(luck) for _ in life.versions]
    life = replace(
        life,
        versions=tuple(replace(one, deal=deal) for one, deal in zip(life.versions, deals, strict=True)),
        rules=((dt.date(2000, 1, 1), RuleSet("scheduled", {}, least=LEAST_MINUTES)),),
        lessons=(),
    )
    return replace(life, lessons=tuple(_every_session(life)))


def _weekly(luck: Random) -> Deal:
    unit = luck.choice(("week", "week", "day"))
    return Deal(unit, luck.randint(1, 7 if unit == "week" else 2), luck.choice((10, 20, 30, 45)))


def _every_session(life: Life) -> Iterator[Lesson]:
    """On each day in session as many sessions as a day holds, at most those of the week."""
    given: dict[tuple[dt.date, Version], int] = {}
    for day in sorted(life.in_force):
        version = life.in_force[day]
        week = (day - day.weekday() * ONE_DAY, version)
        times = version.deal.times or 0
        fit = times if version.deal.unit == "day" else -(-times // 5)
        left = fit if version.deal.unit == "day" else min(fit, times - given.get(week, 0))
        if day in life.school_days and any(day in year for year in life.years):
            given[week] = given.get(week, 0) + left
            yield from (Lesson(day, version.deal.minutes, version.deal.minutes) for _ in range(left))
