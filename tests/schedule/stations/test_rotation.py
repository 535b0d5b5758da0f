"""Rotations against every arrangement of small classes, each rule on and off; and against their judge."""

import itertools
from dataclasses import replace
from typing import Any

import pytest

from schedule.stations.rotation.asked import (
    ALL_RULES,
    Arrangement,
    AskedAdult,
    AskedStation,
    AskedStudent,
    HelpBy,
    Post,
    RotationAsked,
    RotationRule,
)
from schedule.stations.rotation.clashing import rotation_clash
from schedule.stations.rotation.judging import BrokenRule, figures_of, rotation_judge
from schedule.stations.rotation.solving import ChangeAim, changes_between, rotation_solve
from schedule.stations.rotation.wishes import Wish
from schedule.stations.rotation.words import broken_words, clash_words, difference_words
from tests.schedule.stations.rotation_cases import every_arrangement, tiny

ABOUT_STATIONS = {RotationRule.GOALS, RotationRule.AT_A_TIME, RotationRule.STAFF, RotationRule.CAUTIONS}
ABOUT_NOBODY = {RotationRule.AT_A_TIME, RotationRule.STAFF, RotationRule.WAITS, RotationRule.ONCE}


def wish_of(broken: BrokenRule) -> Wish | None:
    """The wish that a broken rule breaks; None where the rotation doesn't fit its class at all."""
    if broken.rule is None:
        return None
    station = broken.station if broken.rule in ABOUT_STATIONS and broken.station is not None else -1
    return Wish(broken.rule, () if broken.rule in ABOUT_NOBODY else broken.students, station)


RULE_SETS = [
    ALL_RULES,
    ALL_RULES - {RotationRule.ONCE},
    *(ALL_RULES - {RotationRule.ONCE, rule} for rule in RotationRule if rule != RotationRule.ONCE),
]


def _possible(asked: RotationAsked) -> list[Arrangement]:
    return [one for one in every_arrangement(asked) if _may_be(asked, one)]


def _may_be(asked: RotationAsked, one: Arrangement) -> bool:
    """Goals, waiting, and waiting beside whom one should be kept apart from are made small, never forbidden."""
    waits = {RotationRule.GOALS, RotationRule.WAITS}
    return all(
        broken.rule in waits or (broken.rule is RotationRule.APART and broken.station is None)
        for broken in rotation_judge(asked, one)
    )


def _worth(asked: RotationAsked, one: Arrangement) -> tuple[int, ...]:
    figures = figures_of(asked, one)
    again = 0 if asked.has(RotationRule.ONCE) else figures.again
    again += len([post for post in one.posts.values() if post != Post() and not post.one_to_one])
    return figures.beside, figures.over, figures.weight, figures.waits, again, figures.walks + figures.late


@pytest.mark.parametrize("help_by", list(HelpBy))
@pytest.mark.parametrize("rules", RULE_SETS, ids=lambda rules: "-".join(sorted(ALL_RULES - rules)) or "all")
def test_as_good_as_the_best_of_all_arrangements(rules: frozenset[RotationRule], help_by: HelpBy) -> None:
    for seed in range(2):
        asked = tiny(seed * 31 + len(rules), help_by, rules)
        found = rotation_solve(asked)
        assert _may_be(asked, found.arrangement)
        assert found.proved
        assert _worth(asked, found.arrangement) == min(_worth(asked, one) for one in _possible(asked))


@pytest.mark.parametrize("aim", list(ChangeAim))
def test_changes_as_little_as_any_arrangement(aim: ChangeAim) -> None:
    for seed in range(4):
        planned = tiny(seed, HelpBy.AT_STATIONS, ALL_RULES - {RotationRule.ONCE})
        before = rotation_solve(planned).arrangement
        today = replace(planned, adults=planned.adults[:0] if seed % 2 else planned.adults)
        first = today.students[0]
        today = replace(today, students=(replace(first, away=frozenset({0})), *today.students[1:]))
        found = rotation_solve(today, before, aim=aim)

        def worth(one: Arrangement) -> tuple[int, ...]:
            beside, over, weight, waits, *_ = _worth(today, one)  # noqa: B023 - within the same turn of the loop
            changes = changes_between(today, before, one)  # noqa: B023
            fewest = aim is ChangeAim.FEWEST_CHANGES
            return (beside, over, changes, weight, waits) if fewest else (beside, over, weight, waits, changes)

        assert found.proved
        assert worth(found.arrangement) == min(worth(one) for one in _possible(today))


def test_the_clash_is_the_smallest_that_every_arrangement_breaks() -> None:
    clashes = 0
    for seed in range(8):
        asked = tiny(seed, HelpBy.AT_STATIONS, ALL_RULES)
        broken = {
            frozenset(filter(None, (wish_of(rule) for rule in rotation_judge(asked, one))))
            for one in every_arrangement(asked)
        }
        found = rotation_clash(asked)
        if frozenset() in broken:
            assert found is None
            continue
        clashes += 1
        assert found is not None
        assert found.smallest
        assert all(set(found.wishes) & one for one in broken)
        wishes = sorted(frozenset[Wish]().union(*broken))
        smaller = itertools.combinations(wishes, len(found.wishes) - 1)
        assert not any(all(set(some) & one for one in broken) for some in smaller)
    assert clashes >= 2


def _plain(*, rounds: int = 2, **values: Any) -> RotationAsked:
    stations = (AskedStation(1, "Balance", 1), AskedStation(2, "Throwing", 1))
    students = (AskedStudent(11, "Ana", {1: 20}), AskedStudent(12, "Ben", {1: 5}))
    asked = RotationAsked(stations, students, (AskedAdult(21, "Aide"),), rounds)
    return replace(asked, **values)


def test_goals_with_the_oldest_data_come_first() -> None:
    """One round and one place: who has waited longer for data has it."""
    found = rotation_solve(_plain(rounds=1))
    assert found.arrangement.at == {(11, 0): 1, (12, 0): 2}
    assert found.figures.missed == ((12, 1),)


def test_two_to_be_kept_apart_do_not_wait_side_by_side() -> None:
    """Two stations for one each and three students: a third of the class waits, never these two together."""
    students = tuple(AskedStudent(key, f"S{key}", {}) for key in (11, 12, 13))
    apart = frozenset({frozenset({11, 12})})
    stations = (AskedStation(1, "Balance", 1),)
    asked = _plain(stations=stations, students=students, adults=(), apart=apart, waits_at_most=2)
    found = rotation_solve(asked)
    waiting = [
        {who for (who, at), where in found.arrangement.at.items() if at == turn and where is None}
        for turn in (0, 1)
    ]
    assert all(13 in here and not {11, 12} <= here for here in waiting)
    together = Arrangement({**found.arrangement.at, (11, 0): None, (12, 0): None, (13, 0): 1}, {})
    assert [broken_words(asked, one) for one in rotation_judge(asked, together)] == [
        "Round 1: S11 and S12 both wait, and should be kept apart."
    ]


def test_where_two_can_only_wait_side_by_side_it_is_told() -> None:
    """Nobody is asked yet about the one station: both wait, and the clash names that they should be apart."""
    students = tuple(AskedStudent(key, f"S{key}", {}, barred=frozenset({1})) for key in (11, 12))
    apart = frozenset({frozenset({11, 12})})
    asked = _plain(
        rounds=1, stations=(AskedStation(1, "Balance"),), students=students, adults=(), apart=apart, waits_at_most=1
    )
    found = rotation_solve(asked)
    assert found.figures.beside == 1
    assert found.proved
    clash = rotation_clash(asked)
    assert clash is not None
    assert Wish(RotationRule.APART, (11, 12)) in clash.wishes


def test_old_data_comes_early_in_the_hour() -> None:
    assert rotation_solve(_plain()).arrangement.at[11, 0] == 1


def test_an_adult_of_ones_own_counts_for_nobody_else() -> None:
    stations = (AskedStation(1, "Climbing", 2, staff=1),)
    students = (AskedStudent(11, "Ana", {1: 1}, one_to_one=True), AskedStudent(12, "Ben", {1: 1}))
    asked = RotationAsked(stations, students, (AskedAdult(21, "Aide", own_student=11),), 1)
    assert set(rotation_solve(asked).arrangement.at.values()) == {None}
    more = replace(asked, adults=(*asked.adults, AskedAdult(22, "Teacher")))
    found = rotation_solve(more)
    assert set(found.arrangement.at.values()) == {1}
    assert found.arrangement.posts == {21: Post(student=11, one_to_one=True), 22: Post(station=1)}


def test_somebody_stands_in_for_a_missing_aide_of_ones_own() -> None:
    students = (AskedStudent(11, "Ana", {1: 1}, one_to_one=True),)
    asked = RotationAsked((AskedStation(1, "Climbing", 2),), students, (AskedAdult(22, "Teacher"),), 1)
    assert rotation_solve(asked).arrangement.posts == {22: Post(student=11, one_to_one=True)}


def test_an_adult_who_leads_a_station_stays_there() -> None:
    asked = _plain(adults=(AskedAdult(21, "Teacher", leads=2),))
    assert rotation_solve(asked).arrangement.posts == {21: Post(station=2)}
    for help_by in HelpBy:
        assert rotation_judge(asked.with_help(help_by), Arrangement(dict.fromkeys(asked.cells), {21: Post()}))


def test_what_is_over_stays_and_breaks_no_rule() -> None:
    """In the second round the aide went home: the first is as it was, whatever it would need now."""
    stations = (AskedStation(1, "Climbing", 2, staff=1), AskedStation(2, "Throwing", 2))
    asked = RotationAsked(stations, (AskedStudent(11, "Ana", {1: 30}),), (AskedAdult(21, "Aide"),), 2)
    before = rotation_solve(asked).arrangement
    assert before.at == {(11, 0): 1, (11, 1): 2}
    later = replace(asked, adults=(), done=1)
    found = rotation_solve(later, before)
    assert found.arrangement.at == before.at
    assert not rotation_judge(later, found.arrangement)


def test_the_same_question_gives_the_same_rotation() -> None:
    asked = tiny(3, HelpBy.WITH_STUDENTS, ALL_RULES)
    assert rotation_solve(asked) == rotation_solve(asked)


def test_words_of_a_clash_and_of_what_is_broken() -> None:
    asked = _plain(rounds=1)
    clash = rotation_clash(asked)
    assert clash is not None
    said, wishes = clash_words(asked, clash)
    assert said.startswith("These 3 can't all hold.")
    assert set(wishes) == {"Ana comes to Balance", "Ben comes to Balance", "Balance takes 1 at a time"}
    both = Arrangement({(11, 0): 1, (12, 0): 1}, {21: Post()})
    assert [broken_words(asked, one) for one in rotation_judge(asked, both)] == [
        "Round 1: Balance takes 1 at a time, and 2 are there."
    ]


def test_words_of_the_other_way_to_help() -> None:
    stations = (AskedStation(1, "Climbing", 2, staff=1), AskedStation(2, "Throwing", 2, staff=1))
    asked = RotationAsked(stations, (AskedStudent(11, "Ana", {1: 5, 2: 5}),), (AskedAdult(21, "Aide"),), 2)
    asked = replace(asked, rules=ALL_RULES - {RotationRule.ONCE})
    mine, other = rotation_solve(asked), rotation_solve(asked.with_help(HelpBy.WITH_STUDENTS))
    assert difference_words(asked, mine, other) == (
        "“Aides go along with a student” would mean 1 fewer turn at a goal's station missed, 1 fewer second visit "
        "and 1 more place walked."
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"rounds": 0},
        {"waits_at_most": -1},
        {"students": (AskedStudent(11, "Ana", {9: 1}),)},
        {"apart": frozenset({frozenset({11})})},
        {"apart": frozenset({frozenset({11, 99})})},
        {"stations": (AskedStation(1, "Balance"), AskedStation(1, "Again"))},
    ],
)
def test_a_rotation_whose_keys_do_not_fit_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="rotation"):
        _plain(**wrong)


def test_a_rotation_of_another_class_is_told_and_not_judged_further() -> None:
    asked = _plain()
    assert [broken_words(asked, one) for one in rotation_judge(asked, Arrangement({}, {}))] == [
        "This rotation was made for another class: somebody came or left. Make it anew."
    ]
