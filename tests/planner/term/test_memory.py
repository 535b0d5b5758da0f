"""A term that is interrupted goes on from what it had: its timetable, and the weeks that were answered."""

import itertools
import json

import pytest

from schedule.planner.jsonform import problem_digest
from schedule.planner.term.memory import TermMemory, memory_from_json
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import Term
from tests.planner.builders import random_tiny_week
from tests.planner.term.builders import ann, at, week


class PowerCutError(Exception):
    """The program ends here: nothing after it is done."""


@pytest.fixture
def term() -> Term:
    """Four weeks, no two of which are alike: each offers Ben other starts."""
    usual = ann(at(540), at(600), at(540, "b", "tue"))
    ben = [(at(540, "b"), at(600, "b", "tue"), at(660, day="tue"))[number % 3 :] for number in range(3)]
    weeks = [week(number, usual, ann(*starts, name="ben")) for number, starts in enumerate(ben, 1)]
    return Term((*weeks, week(4, usual)))


def cut_off(term: Term, news: int) -> TermMemory:
    """What is remembered after so much news, as it was written and read again."""
    told = itertools.count(1)

    def tell() -> None:
        if next(told) == news:
            raise PowerCutError

    memory = TermMemory(told=tell)
    with pytest.raises(PowerCutError):
        plan_term(term, time_limit=30, workers=1, memory=memory)
    return memory_from_json(json.loads(json.dumps(memory.as_json(2.0))))


@pytest.mark.parametrize("news", range(1, 9))
def test_it_comes_out_as_well_wherever_it_was_cut_off(term: Term, news: int) -> None:
    whole = plan_term(term, time_limit=30, workers=1)
    again = cut_off(term, news)
    settled, known = again.standing, dict(again.answers)
    assert len(known) + (settled is not None) == news
    found = plan_term(term, time_limit=30, workers=1, memory=again)
    assert (found.drive_minutes, found.unplaced, found.kept, found.open, found.bound) == (
        whole.drive_minutes,
        whole.unplaced,
        whole.kept,
        whole.open,
        whole.bound,
    )
    assert settled in (None, found.standing)
    assert {question: again.answers[question] for question in known} == known


def test_what_is_answered_is_not_asked_again(term: Term) -> None:
    memory = TermMemory()
    plan_term(term, time_limit=30, workers=1, memory=memory)
    again = cut_off(term, len(memory.answers))
    known, news = len(again.answers), list[int]()
    again.told = lambda: news.append(1)
    plan_term(term, time_limit=30, workers=1, memory=again)
    settled = 1
    assert len(news) == settled + len(again.answers) - known < len(memory.answers)


def test_seconds_that_it_had_count_and_a_tenth_is_left_all_the_same(term: Term) -> None:
    """The clock moves by a second whenever somebody looks at it."""
    for had, begins in ((50, 50), (10_000, 900)):
        ticks = map(float, itertools.count())
        memory = TermMemory(had=100 * had)
        found = plan_term(term, time_limit=100_000, monotonic=ticks.__next__, workers=1, memory=memory)
        assert 100 * begins < found.seconds < 100_000


def test_equal_problems_have_one_digest_and_others_another() -> None:
    one, same, other = random_tiny_week(36), random_tiny_week(36), random_tiny_week(37)
    assert problem_digest(one) == problem_digest(same) != problem_digest(other)
