"""Lives on which the two ledgers once differed, each cut down to its least, with figures worked out by hand.

Rules: docs/minutes-ledger.md; the numbers of its paragraphs stand beside the figures. The autumn has fifteen weeks
of five days in session, September 7 to December 18, 2026; October 5 is a Monday.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from caseload.ledger.figures import figures_of, ledger_since
from caseload.ledger.terms import Ledger, PeriodAccount
from tests.caseload.witness.core import core_ledger, said_by_core, said_by_witness
from tests.caseload.witness.life import ONE_DAY, Deal, Lesson, Life, RuleSet, Stretch, Version, Year, days
from tests.caseload.witness.second_ledger import second_ledger

AUTUMN = Year(dt.date(2026, 9, 7), dt.date(2026, 12, 18), (), ())
SPRING = Year(dt.date(2027, 2, 1), dt.date(2027, 3, 26), (), ())
ALWAYS = Stretch(dt.date(2020, 1, 1), dt.date(2030, 1, 1))
MONDAY = dt.date(2026, 10, 5)
TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (MONDAY + n * ONE_DAY for n in range(1, 5))
TWICE = Deal("week", 2, 30)


def october(day: int) -> dt.date:
    """A day of October."""
    return dt.date(2026, 10, day)


def life_of(
    *versions: Version,
    closed: Iterable[dt.date] = (),
    lessons: Iterable[Lesson] = (),
    years: tuple[Year, ...] = (AUTUMN,),
    stay: Stretch = ALWAYS,
    least: int = 10,
) -> Life:
    """A life up to the end of its last year, under the rules as shipped."""
    shut = frozenset(closed)
    school = {day for year in years for day in days(year.first, year.last) if day.weekday() < 5} - shut
    return Life(
        versions,
        years,
        (frozenset(school), frozenset(school)),
        ((0, stay),),
        ((ALWAYS.first, RuleSet("scheduled", {"teacher": "owed"}, least=least)),),
        tuple(lessons),
        years[-1].last,
        ALWAYS.first,
    )


def counted(life: Life) -> Ledger:
    """What the program says, which the second ledger must say, too."""
    found = core_ledger(life)
    assert said_by_core(found) == said_by_witness(second_ledger(life))
    return found


def account(life: Life, day: dt.date) -> PeriodAccount:
    """The period that a day lies in."""
    return next(one for one in counted(life).periods if day in one.span)


def since(day: dt.date, deal: Deal = TWICE) -> Version:
    """A deal from a day until the end of the autumn."""
    return Version(deal, day, AUTUMN.last)


def given(*found: dt.date, minutes: int = 30) -> list[Lesson]:
    """Sessions that were given as planned."""
    return [Lesson(day, minutes, minutes) for day in found]


def test_a_service_from_wednesday_shares_a_week_by_its_days_in_session() -> None:
    """3 and 4: two of four days in session are 30 of 60 at the most, as under the rule for the whole week."""
    life = life_of(since(WEDNESDAY), closed=[THURSDAY], lessons=given(WEDNESDAY, FRIDAY))
    assert account(life, MONDAY).owed == 30


def test_a_closed_monday_before_the_service_isnt_among_its_days() -> None:
    """3 and 4: three of four days are 45 at the most; two of four, with nothing placed, 15 at the least."""
    life = life_of(since(WEDNESDAY), closed=[MONDAY], lessons=given(WEDNESDAY, FRIDAY))
    assert account(life, MONDAY).owed == 45
    assert account(life_of(since(THURSDAY), closed=[MONDAY]), MONDAY).owed == 15


def test_a_make_up_isnt_spent_on_rounding() -> None:
    """8: 24 from a Thursday, 20 given: 4 are rounding and not owed, so the make-up pays the week after."""
    lessons = [*given(THURSDAY, minutes=20), Lesson(october(16), 30, 30, make_up=True)]
    life = life_of(since(THURSDAY), lessons=lessons)
    first, second = account(life, MONDAY), account(life, october(12))
    assert (first.owed, first.made_up, first.rounding, first.still_owed) == (24, 0, 4, 0)
    assert (second.owed, second.made_up, second.still_owed) == (60, 30, 30)


def test_a_make_up_that_leaves_too_little_of_a_share_leaves_rounding() -> None:
    """8: of 24 ten were given and ten made up; 4 are left."""
    lessons = [*given(THURSDAY, minutes=10), Lesson(october(16), 10, 10, make_up=True)]
    first = account(life_of(since(THURSDAY), lessons=lessons), MONDAY)
    assert (first.made_up, first.rounding, first.still_owed) == (10, 4, 0)


def test_turns_of_weeks_owe_the_whole() -> None:
    """4: longer periods owe the whole, placed or not; 3: no more weeks than have school."""
    shut = [*days(october(14), october(16)), *days(october(19), october(23))]
    for deal, minutes in (
        (Deal("weeks", 2, 10, of=3), 20),
        (Deal("weeks", 2, 10, of=3, on=1), 20),
        (Deal("weeks", 2, 10, of=3, on=2), 40),
    ):
        life = life_of(since(MONDAY, deal), closed=shut)
        assert account(life, MONDAY).owed == minutes
    one_week = [*days(october(12), october(23))]
    assert account(life_of(since(MONDAY, Deal("weeks", 2, 10, of=3, on=2)), closed=one_week), MONDAY).owed == 20


def test_a_period_of_weeks_owes_no_more_sessions_than_its_days_hold() -> None:
    """3: six sessions in four weeks are one a day at the most; five days in session hold five."""
    life = life_of(since(MONDAY, Deal("weeks", 6, 45, of=4)), closed=days(october(12), dt.date(2026, 11, 1)))
    assert account(life, MONDAY).owed == 5 * 45


def test_what_whole_sessions_lack_is_no_rounding() -> None:
    """8: a short week that owes one session of 30, and a month of three days that owes three, owe no share."""
    late = [Lesson(TUESDAY, 30, 25, "teacher")]
    week = account(life_of(since(AUTUMN.first), closed=[MONDAY], lessons=late), MONDAY)
    assert (week.owed, week.rounding, week.still_owed) == (30, 0, 5)
    lessons = [*given(october(1), october(2)), Lesson(october(5), 30, 25, "teacher")]
    shut = days(october(6), october(31))
    month = account(life_of(since(AUTUMN.first, Deal("month", 8, 30)), closed=shut, lessons=lessons), MONDAY)
    assert (month.owed, month.rounding, month.still_owed) == (90, 0, 5)


def test_who_leaves_owes_a_share_of_the_whole_service() -> None:
    """3: eight times seven minutes in fifteen weeks, two of which the student was there: 56 x 10/75 = 7."""
    life = life_of(since(AUTUMN.first, Deal("service", 8, 7)), stay=Stretch(ALWAYS.first, dt.date(2026, 9, 18)))
    assert [one.owed for one in counted(life).periods] == [7]


def test_what_a_year_left_open_is_told_as_of_its_last_day() -> None:
    """Opening balance: 17 of 197 lacked in December; ten made up in January leave rounding, and 17 it was."""
    gave = given(*[AUTUMN.first + (1 + 7 * n) * ONE_DAY for n in range(9)], minutes=20)
    version = Version(Deal("year", 20, 10), dt.date(2026, 9, 8), AUTUMN.last)
    made_up = Lesson(dt.date(2027, 1, 5), 10, 10, make_up=True)
    (opening,) = counted(life_of(version, lessons=[*gave, made_up], years=(AUTUMN, SPRING))).openings
    assert (opening.opened, opening.open) == (17, 0)


def test_rounding_opens_no_year() -> None:
    """8: 7 of 197 lacked in December, which no session holds: nothing was open, and a later make-up is spare."""
    gave = given(*[AUTUMN.first + (1 + 7 * n) * ONE_DAY for n in range(10)], minutes=19)
    version = Version(Deal("year", 20, 10), dt.date(2026, 9, 8), AUTUMN.last)
    made_up = Lesson(dt.date(2027, 1, 5), 30, 30, make_up=True)
    found = counted(life_of(version, lessons=[*gave, made_up], years=(AUTUMN, SPRING)))
    assert [(one.opened, one.open) for one in found.openings] == [(0, 0)]
    assert found.spare_make_up == 30


def test_what_a_plan_left_open_is_kept_apart_in_the_year() -> None:
    """Opening balance: plan A until the Friday of a week with one lesson, so 30 of its 60 were open; then plan B.

    A week later a make-up of 20 pays plan A's week, and B's own week lacks its second lesson: 30 still owed.
    """
    before, after = Version(TWICE, MONDAY, FRIDAY, "A"), Version(TWICE, october(12), AUTUMN.last, "B")
    made_up = Lesson(october(13), 20, 20, make_up=True)
    life = replace(life_of(before, after, lessons=[*given(MONDAY, october(12)), made_up]), as_of=october(18))
    found = counted(life)
    (opening,) = found.openings
    assert (opening.name, opening.opened, opening.open) == ("the plan until October 9, 2026", 30, 10)
    figures = figures_of(found)
    assert (figures.owed, figures.delivered, figures.made_up) == (120, 60, 20)
    assert (figures.opening, figures.behind) == (10, 30)
    later = ledger_since(found, october(12))
    assert (later.open_before, later.figures.behind) == (10, 30)
    assert ledger_since(found, MONDAY).open_before == 10


def test_a_period_in_which_one_plan_follows_the_other_is_the_next_ones() -> None:
    """Opening balance: from Thursday on it is plan B's week, so nothing of it is kept apart."""
    before, after = Version(TWICE, MONDAY, WEDNESDAY, "A"), Version(TWICE, THURSDAY, AUTUMN.last, "B")
    life = replace(life_of(before, after, lessons=given(MONDAY)), as_of=october(11))
    found = counted(life)
    assert found.openings == ()
    assert figures_of(found).behind == 30


def test_other_terms_share_a_short_month_within_what_its_days_hold() -> None:
    """3: fifteen sessions in a month of eight days in session are eight, also where other terms held before."""
    before = Version(Deal("month", total=31), AUTUMN.first, october(9))
    after = since(october(10), Deal("month", 15, 20))
    shut = [*days(october(1), october(18)), *days(october(29), october(31))]
    assert account(life_of(before, after, closed=shut), MONDAY).owed == 8 * 20


def test_daily_and_weekly_terms_have_periods_of_their_own() -> None:
    """2: daily until Tuesday 2 x 20, from Wednesday on three fifths of 5 x 45."""
    life = life_of(Version(Deal("day", 1, 20), MONDAY, TUESDAY), since(WEDNESDAY, Deal("week", 5, 45)))
    assert [one.owed for one in counted(life).periods if MONDAY in one.span] == [40, 135]


def test_turns_of_weeks_begin_with_their_terms() -> None:
    """2: weekly from September 7 on, from Wednesday, October 7 on every second week: a turn from that Monday."""
    life = life_of(
        Version(Deal("week", 1, 30), AUTUMN.first, TUESDAY), since(WEDNESDAY, Deal("weeks", 1, 30, of=2, on=1))
    )
    assert [one.span.first for one in counted(life).periods if one.span.first >= MONDAY][:3] == [
        MONDAY,
        MONDAY,
        MONDAY + 14 * ONE_DAY,
    ]
