"""What happened to the demo's sessions: the same each time, and within what was planned."""

import datetime as dt

from caseload.ledger.defaults import DEFAULT_REASONS
from schedule.demo.happened import HABITS, STORY, happened

YEAR = [dt.date(2026, 9, 8) + dt.timedelta(days=number) for number in range(290)]


def test_a_day_with_a_story_has_its_reason_for_everybody_there() -> None:
    told = happened(dt.date(2026, 10, 1), "TANSY", "S01", 30)
    assert (told.reason, told.minutes) == ("teacher_absent", None)
    assert happened(dt.date(2026, 10, 28), "TANSY", "S01", 30).reason == "no_space"
    assert happened(dt.date(2026, 10, 28), "LARK", "S09", 30).reason != "no_space"


def test_a_day_that_somebody_else_gave_misses_nothing() -> None:
    told = happened(dt.date(2026, 10, 29), "TANSY", "S01", 30)
    assert (told.reason, told.given_by) == ("", "Anselm Roke")


def test_minutes_given_all_the_same_stay_below_what_was_planned() -> None:
    told = happened(dt.date(2026, 11, 17), "FENN", "S28", 15)
    assert (told.reason, told.minutes) == ("no_aide", 14)


def test_whoever_is_missing_often_is_missing_more_often_than_others() -> None:
    def missed(code: str) -> int:
        return sum(happened(day, "", code, 30).reason == HABITS[code].reason for day in YEAR)

    assert missed("S26") > missed("S14")
    # A habit of 18 in 100 over 290 days: 52 on average, within three standard deviations (binomial, 6.5 each).
    assert 32 <= missed("S26") <= 72


def test_every_reason_is_one_that_a_district_has() -> None:
    known = {one.code for one in DEFAULT_REASONS}
    assert {one.reason for one in STORY if one.reason} | {one.reason for one in HABITS.values()} <= known
