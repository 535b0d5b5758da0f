"""A term that is interrupted goes on from what it had: its timetable, and the weeks that were answered."""

import itertools
import json
from collections.abc import Callable

import pytest

from schedule.planner.jsonform import problem_digest
from schedule.planner.term.memory import TermMemory, memory_from_json
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import Term, TermResult
from tests.planner.builders import random_tiny_week
from tests.planner.term.builders import ann, at, week
from tests.planner.term.rotation.test_standing import two_letters


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
    assert len(known) + bool(again.candidates) + (settled is not None) == news
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


SEARCHING = {
    "plain weeks that suit the others",
    "where the rotating sessions stand",
    "weeks nearest to each other",
    "a timetable that suits every week",
    "a timetable that suits the weeks which the calendar disturbs",
}


def cut_off_when(term: Term, is_time: Callable[[TermMemory], bool]) -> TermMemory:
    """What is remembered once that is so, as it was written and read again."""
    memory = TermMemory()

    def tell() -> None:
        if is_time(memory):
            raise PowerCutError

    memory.told = tell
    with pytest.raises(PowerCutError):
        plan_term(term, time_limit=30, workers=1, memory=memory)
    return memory_from_json(json.loads(json.dumps(memory.as_json(2.0))))


def gone_on(term: Term, memory: TermMemory) -> tuple[TermResult, set[str]]:
    """What comes of going on, and all that the run said of itself."""
    said: set[str] = set()
    found = plan_term(term, time_limit=30, workers=1, memory=memory, progress=lambda _, words, *__: said.add(words))
    return found, said


def test_timetables_that_were_compared_are_not_looked_for_again(term: Term) -> None:
    """It ends while their weeks are planned: the same are compared on, and none is searched."""
    again = cut_off_when(term, lambda one: len(one.candidates) > 0)
    candidates = again.candidates
    assert again.standing is None
    found, said = gone_on(term, again)
    assert again.candidates == candidates
    assert not SEARCHING & said
    assert "a first term, checked" in said
    whole = plan_term(term, time_limit=30, workers=1)
    assert (found.standing, found.weeks, found.later) == (whole.standing, whole.weeks, whole.later)


def test_where_rotating_sessions_may_stand_is_not_looked_for_again() -> None:
    """It ends while the weeks of the patterns are compared; then no bound is known for the one that is taken."""
    term = Term(tuple(kind.week for kind in two_letters()))
    whole = plan_term(term, time_limit=30, workers=1)
    again = cut_off_when(term, lambda one: len(one.patterns) > 1 and len(one.answers) > 3)
    patterns = again.patterns
    assert not again.candidates
    found, said = gone_on(term, again)
    assert again.patterns == patterns
    assert "where the rotating sessions stand" not in said
    assert (found.standing, found.weeks) == (whole.standing, whole.weeks)
    assert found.bound_with_rotation is None
    assert whole.bound_with_rotation is not None


def test_what_is_answered_is_not_asked_again(term: Term) -> None:
    memory = TermMemory()
    plan_term(term, time_limit=30, workers=1, memory=memory)
    again = cut_off(term, len(memory.answers))
    known, news = len(again.answers), list[int]()
    again.told = lambda: news.append(1)
    plan_term(term, time_limit=30, workers=1, memory=again)
    assert again.candidates, "these are known already"
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
