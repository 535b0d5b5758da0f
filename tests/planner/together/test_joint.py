"""Sessions that two members hold as one: the best weeks of all by trying every plan of both."""

import random
from dataclasses import replace

import pytest

from schedule.planner.problem import Day, Problem, Service, Start
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Itinerary
from schedule.planner.together.joint import common_starts, spots_joint
from schedule.planner.together.judge import judge_together
from schedule.planner.together.plan import ApartError, plan_together
from schedule.planner.together.shared import JointUnit, Member, Party, space_key
from tests.planner.brute import every_plan
from tests.planner.builders import NO_SAMENESS, at, random_tiny_week, service, tiny
from tests.planner.together.test_together import alone, member, plans_of

STUDENT = frozenset({"student 1"})

type Chosen = tuple[tuple[str, Start], ...]


def random_pair(seed: int, *, consults: bool = False) -> Party | None:
    """Two tiny weeks with one student, of whose sessions some are to be one; nothing where no start is common.

    What is to be one ``consults`` about the student, who isn't there then and in another service of each.
    """
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    weeks = [_plain(random_tiny_week(1000 * number + seed)) for number in range(2)]
    mine = weeks[0].services[0]
    weeks[1] = _with_starts_of(rng, weeks[1], mine)
    members = tuple(
        Member(f"m{number}", f"Member {number}", week, {one.id: STUDENT for one in week.services[consults:2]})
        for number, week in enumerate(weeks)
    )
    joint = JointUnit("m0", mine.id, "m1", weeks[1].services[0].id, 1)
    party = Party(members, joint=(joint,))
    days = {start.day for start, _ in common_starts(party, joint)}
    most = min(mine.sessions, weeks[1].services[0].sessions, len(days))
    return replace(party, joint=(replace(joint, times=rng.randint(1, most)),)) if most else None


def _plain(problem: Problem) -> Problem:
    return replace(problem, groups=(), pins=(), current=None, goals=NO_SAMENESS)


def _with_starts_of(rng: random.Random, problem: Problem, other: Service) -> Problem:
    """The week with some of another's starts at its first service, which is as long."""
    first, *rest = problem.services
    days, places = {one.id for one in problem.days}, {one.id for one in problem.places}
    common = [one for one in other.starts if one.day in days and one.place in places and rng.random() < 0.8]
    starts = tuple(dict.fromkeys([*common, *first.starts[:2]]))
    return replace(problem, services=(replace(first, minutes=other.minutes, starts=starts), *rest))


def best_as_one(party: Party) -> tuple[int, ...] | None:
    """The least sums over every plan of both in which enough sessions are one, and the student is so once."""
    ada, bel = party.members
    [joint] = party.joint
    theirs = [(chosen, figures) for chosen, figures in every_plan(bel.problem)]
    best: tuple[int, ...] | None = None
    for mine, figures in every_plan(ada.problem):
        for other, others in theirs:
            sums = tuple(map(sum, zip(figures, others, strict=True)))
            if (best is None or sums < best) and _holds(party, joint, mine, other):
                best = sums
    return best


def _holds(party: Party, joint: JointUnit, mine: Chosen, theirs: Chosen) -> bool:
    """Every fifth minute: the student is with one of them, or with both in one session."""
    ada, bel = party.members
    as_one = {start for unit, start in mine if unit == joint.unit}
    as_one &= {start for unit, start in theirs if unit == joint.other_unit}
    if len(as_one) < joint.times:
        return False
    minutes = [
        (start.day, minute)
        for who, chosen, unit_joint in ((ada, mine, None), (bel, theirs, joint.other_unit))
        for unit, start in chosen
        if who.things.get(unit) and not (unit == unit_joint and start in as_one)
        for minute in range(start.at, start.at + who.problem.minutes_of(unit, start), 5)
    ]
    return len(minutes) == len(set(minutes))


SEEDS = [seed for seed in range(60) if random_pair(seed) is not None]
CONSULTING = [seed for seed in range(60, 100) if random_pair(seed, consults=True) is not None]


def test_enough_of_the_random_weeks_have_common_starts() -> None:
    assert len(SEEDS) >= 20
    assert len(CONSULTING) >= 10


@pytest.mark.parametrize("seed", SEEDS)
def test_the_best_over_all_is_found_and_proved(seed: int) -> None:
    party = random_pair(seed)
    assert party is not None
    expected = best_as_one(party)
    if expected is None:
        with pytest.raises(ApartError):
            plan_together(party)
        return
    found = plan_together(party)
    assert (found.value, found.bound, found.proved) == (expected, expected, True)
    assert judge_together(party, plans_of(found.weeks)) == ()


@pytest.mark.parametrize("seed", CONSULTING)
def test_consultations_are_one_where_that_is_best_over_all(seed: int) -> None:
    """They take no student's time, and both teachers' all the same."""
    party = random_pair(seed, consults=True)
    assert party is not None
    expected = best_as_one(party)
    if expected is None:
        with pytest.raises(ApartError):
            plan_together(party)
        return
    found = plan_together(party)
    assert (found.value, found.bound, found.proved) == (expected, expected, True)
    assert judge_together(party, plans_of(found.weeks)) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_by_turns_says_no_more_than_is_true(seed: int) -> None:
    """Without one case looked at, weeks may not be found; those that are hold, and are no better than the best."""
    party = random_pair(seed)
    assert party is not None
    expected = best_as_one(party)
    try:
        found = plan_together(party, most_cases=0)
    except ApartError:
        return
    assert expected is not None
    assert found.bound <= expected <= found.value
    assert judge_together(party, plans_of(found.weeks)) == ()


# ---- by hand -----------------------------------------------------------------------------------------------------


def pair(ada: Problem, bel: Problem, times: int = 1) -> Party:
    """Both have the student in their service `s`."""
    joint = JointUnit("ada", "s", "bel", "s", times)
    return Party((member("ada", ada, s="student 1"), member("bel", bel, s="student 1")), joint=(joint,))


def test_both_meet_where_only_one_would_go() -> None:
    """Ada would drive nowhere at 9:00; both can at 10:00 alone."""
    found = plan_together(
        pair(tiny(service("s", at(540), at(600, "b"))), tiny(service("s", at(560), at(600, "b"))))
    )
    assert found.proved
    assert {plan.sessions[0].at for plan in plans_of(found.weeks).values()} == {600}


def test_two_sessions_are_one_on_two_days() -> None:
    """Ada would stay in one school on two days, of which Bel has one: both meet in the other school, too."""
    monday, tuesday, wednesday = (
        [at(540, place, day=day) for place in places] for day, places in (("mon", "a"), ("tue", "b"), ("wed", "a"))
    )
    days = (Day("mon", 480, 900), Day("tue", 480, 900), Day("wed", 480, 900))
    ada = tiny(service("s", *monday, *tuesday, *wednesday, sessions=2), days=days)
    bel = tiny(service("s", *tuesday, *wednesday, sessions=2), days=days)
    found = plan_together(pair(ada, bel, times=2))
    assert found.proved
    assert found.value[0] == 0
    held = [{(one.day, one.at) for one in plan.sessions} for plan in plans_of(found.weeks).values()]
    assert held == [{("tue", 540), ("wed", 540)}] * 2


def test_in_another_space_or_for_other_minutes_is_not_one() -> None:
    week = tiny(service("s", at(540, space="gym")))
    for other in (at(540, space="hall"), at(540, space="gym", minutes=20), at(540)):
        party = pair(week, tiny(service("s", other)))
        assert common_starts(party, party.joint[0]) == ()
        with pytest.raises(ApartError):
            plan_together(party)


def test_as_one_they_take_a_space_once() -> None:
    """The gym has room for one session; a third one there at that time has to go."""
    week = tiny(service("s", at(540, space="gym")))
    third = member("cal", tiny(service("t", at(540, space="gym"), at(600, space="gym"))))
    found = plan_together(replace(pair(week, week), members=(*pair(week, week).members, third)))
    assert found.value[0] == 0
    assert plans_of(found.weeks)["cal"].sessions[0].at == 600


def test_the_judge_counts_what_is_one() -> None:
    week = tiny(service("s", at(540, space="gym")))
    plans = {"ada": alone(week), "bel": alone(week)}
    assert judge_together(pair(week, week), plans) == ()
    later = tiny(service("s", at(600, space="gym")))
    told = judge_together(pair(week, later), {"ada": alone(week), "bel": alone(later)})
    assert [one.text for one in told] == ["ada Vey and bel Vey hold 0 of 1 sessions as one."]
    assert spots_joint(plans, pair(week, week).joint[0])
    without = replace(pair(week, week), joint=())
    assert {one.text for one in judge_together(without, plans)} == {
        "student 1 is with ada Vey and bel Vey at 9:00.",
        f"{space_key('a', 'gym')} is with ada Vey and bel Vey at 9:00.",
    }


def test_nobody_is_joint_with_themselves() -> None:
    with pytest.raises(ProblemError):
        JointUnit("ada", "s", "ada", "t", 1)
    with pytest.raises(ProblemError):
        JointUnit("ada", "s", "bel", "t", 0)


def test_without_anything_joint_nothing_changes() -> None:
    week = tiny(service("s", at(540), at(600)))
    found = plan_together(replace(pair(week, week), joint=()))
    plans: dict[str, Itinerary] = plans_of(found.weeks)
    assert {one.sessions[0].at for one in plans.values()} == {540, 600}
