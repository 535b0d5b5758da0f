"""Proposals of tiny districts are the best there are: beside every assignment, each week planned to proof."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import product

import pytest

from schedule.planner.assign.answer import WORTHS, Favoring, Proposal
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.figures import broken_rules
from schedule.planner.assign.pricing import week_of
from schedule.planner.assign.propose import price, propose
from schedule.planner.assign.question import Staffing
from schedule.planner.check import check
from schedule.planner.days import Block, Lunch
from schedule.planner.result import ItemKind, Status
from schedule.planner.solve import solve
from tests.planner.assign.builders import day, district, owed, teacher

SEEDS = range(8)


def random_district(seed: int) -> Staffing:
    """Two or three teachers, three to five students; each rule on or off at random."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    services = [
        owed(
            f"s{n}",
            rng.choice("abc"),
            minutes=rng.choice((30, 45)),
            sessions=rng.randint(1, 2),
            last=rng.choice((None, "ames", "cole")),
        )
        for n in range(rng.randint(3, 5))
    ]
    teachers = []
    for name, base in (("ames", "home a"), ("cole", "home c"), ("dunn", "home c"))[: rng.randint(2, 3)]:
        lunch = rng.choice((None, Lunch(30, 600, 690)))
        days = tuple(day(one, base, end=rng.choice((600, 720)), lunch=None) for one in ("mon", "tue"))
        if lunch is not None:
            days = tuple(day(one, base, lunch=lunch) for one in ("mon", "tue"))
        teachers.append(
            teacher(
                name,
                base,
                days=2,
                most_minutes=rng.choice((None, None, 120)),
                not_places=frozenset(rng.choice(((), (), ("b",)))),
                not_services=frozenset(rng.choice(((), (), ("s0",)))),
                keeps=frozenset({"student of s1"} if name == "ames" and rng.random() < 0.3 else ()),
            )
        )
        teachers[-1] = replace(teachers[-1], days=days)
    return district(*services, teachers=tuple(teachers))


def test_nobody_is_seen_during_a_meeting() -> None:
    """A meeting from 8:30 to 9:30 on each of two mornings: six half hours go before and after it, none under it."""
    mornings = tuple(replace(day(one, "a"), blocks=(Block(510, 570, None, "Team"),)) for one in ("mon", "tue"))
    ames = replace(teacher("ames", "a"), days=mornings)
    question = district(*(owed(f"s{n}", "a") for n in range(6)), teachers=(ames,), bases=())
    (found,) = propose(question, effort=1, favoring=(Favoring.DRIVING,))
    assert found.figures.unplaced == 0
    plan = found.loads[0].plan
    assert plan is not None
    spans = [(item.start, item.end) for day in plan.days for item in day.of_kind(ItemKind.SESSION)]
    assert len(spans) == 6
    assert all(end <= 510 or start >= 570 for start, end in spans)


def every_assignment(question: Staffing) -> Iterator[dict[str, str]]:
    """Every one that breaks no rule; a service may have nobody."""
    parts = bundles(question)
    for owners in product([None, *(one.id for one in question.teachers)], repeat=len(question.services)):
        pairs = zip(question.services, owners, strict=True)
        assignment = {one.id: owner for one, owner in pairs if owner is not None}
        if not broken_rules(question, parts, assignment):
            yield assignment


def ranks(question: Staffing, favoring: Favoring) -> dict[tuple[tuple[str, str], ...], tuple[int, int, float]]:
    """Unplaced minutes, preparation missed, and what is favored, of every assignment; weeks planned to proof."""

    @cache
    def week(who: str, services: frozenset[str]) -> tuple[int, int, int]:
        given = [one for one in question.services if one.id in services]
        found = solve(week_of(question, question.teacher(who), given), workers=1)
        assert found.status is Status.OPTIMAL
        assert found.figures is not None
        return found.figures.unplaced, found.figures.wishes, found.figures.driving

    last = {one.id: one.last for one in question.services if question.has_teacher(one.last)}
    found = {}
    for assignment in every_assignment(question):
        weeks = [
            week(one.id, frozenset(service for service, who in assignment.items() if who == one.id))
            for one in question.teachers
        ]
        nobody = sum(one.week_minutes for one in question.services if one.id not in assignment)
        unplaced, missed, driving = (sum(figures) for figures in zip(*weeks, strict=True))
        changes = sum(assignment.get(service) != who for service, who in last.items())
        cost = driving + WORTHS[favoring].change * changes
        found[tuple(sorted(assignment.items()))] = (unplaced + nobody, missed, cost)
    return found


def rank(proposal: Proposal) -> tuple[int, int, float]:
    """The same of a proposal, by its own figures."""
    return proposal.figures.unplaced, proposal.figures.short, proposal.cost


@pytest.mark.long
@pytest.mark.parametrize("favoring", [Favoring.DRIVING, Favoring.CHANGES])
@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_better_than_what_is_proposed(seed: int, favoring: Favoring) -> None:
    """Every assignment of a tiny district with each rule on or off, each teacher's week planned to proof."""
    question = random_district(seed)
    known = ranks(question, favoring)
    found = propose(question, effort=1.5, favoring=(favoring,))[0]
    assert found.broken == ()
    assert rank(found) == min(known.values())
    assert rank(found) >= known[tuple(sorted(found.assignment.items()))]


@pytest.mark.parametrize("favoring", [Favoring.DRIVING, Favoring.CHANGES])
def test_nothing_is_worse_than_what_is_known_beforehand(favoring: Favoring) -> None:
    """A search that may do next to nothing gives what a longer one had found, its weeks to the minute."""
    for seed in SEEDS:
        question = random_district(seed)
        (known,) = propose(question, effort=1.5, favoring=(favoring,))
        (found,) = propose(question, effort=0.001, favoring=(favoring,), beside=(known,))
        assert rank(found) == rank(known)
        by_part = {(one.teacher, one.services): one for one in known.loads}
        same = [one for one in found.loads if (one.teacher, one.services) in by_part]
        assert all(one == by_part[one.teacher, one.services] for one in same)


def test_what_is_known_of_a_teacher_who_left_is_left_out() -> None:
    """The others' weeks are taken over; whom the teacher had goes to somebody else."""
    question = district(owed("one", "a"), owed("two", "c"))
    known = price(question, {"one": "ames", "two": "cole"})
    (cole,) = (one for one in question.teachers if one.id == "cole")
    (found,) = propose(replace(question, teachers=(cole,)), effort=1, favoring=(Favoring.DRIVING,), beside=(known,))
    assert found.assignment == {"one": "cole", "two": "cole"}
    assert found.figures.unplaced == 0


def judged(question: Staffing, proposal: Proposal) -> Mapping[str, int]:
    """Minutes placed and driven, by reading the weeks; each is judged by the planner's own judge."""
    placed, driven = 0, 0
    for load in proposal.loads:
        given = [one for one in question.services if proposal.assignment.get(one.id) == load.teacher]
        assert load.plan is not None
        verdict = check(week_of(question, question.teacher(load.teacher), given), load.plan)
        assert verdict.holds
        placed += sum(one.minutes or 0 for one in load.plan.sessions)
        driven += verdict.figures.driving
    return {"placed": placed, "driving": driven}


@pytest.mark.parametrize("seed", SEEDS)
def test_figures_are_what_the_judge_reads_in_the_weeks(seed: int) -> None:
    """Minutes placed and driven, added up from the itineraries; nothing is given twice or dropped."""
    question = random_district(seed)
    for found in propose(question, effort=1.5):
        assert judged(question, found) == {"placed": found.figures.placed, "driving": found.figures.driving}
        assert found.figures.placed + found.figures.unplaced == sum(one.week_minutes for one in question.services)
        assert found.broken == ()


def test_the_same_seed_and_effort_give_the_same_proposals() -> None:
    """Work decides, no clock."""
    question = random_district(3)
    assert propose(question, effort=1.5, seed=5) == propose(question, effort=1.5, seed=5)
