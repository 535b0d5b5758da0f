"""What is asked and answered before the year: what belongs together, who may, figures, and a change by hand."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from schedule.planner.assign.answer import Favoring
from schedule.planner.assign.bundles import bundles
from schedule.planner.assign.propose import price, propose
from schedule.planner.assign.question import Staffing
from schedule.planner.assign.record import as_record, from_record
from schedule.planner.requirements import ProblemError
from tests.planner.assign.builders import APE, VISION, district, owed, teacher


def test_services_of_a_student_or_a_class_stay_together_in_one_field() -> None:
    """Through a student whom two services share, a class of which both are, and a chain of both."""
    question = district(
        owed("one", "a", students=("ann",)),
        owed("two", "b", students=("ann", "ben")),
        owed("three", "a", students=("ben",), klass="room 4"),
        owed("four", "a", students=("cal",), klass="room 4"),
        owed("five", "a", students=("ann",), field=VISION),
        owed("six", "a", students=("dee",)),
    )
    assert [[one.id for one in part.services] for part in bundles(question)] == [
        ["one", "two", "three", "four"],
        ["five"],
        ["six"],
    ]


@pytest.mark.parametrize(
    ("changes", "allowed"),
    [
        ({}, ("ames", "cole")),
        ({"fields": frozenset({VISION})}, ("cole",)),
        ({"not_places": frozenset({"a"})}, ("cole",)),
        ({"not_services": frozenset({"one"})}, ("cole",)),
        ({"keeps": frozenset({"student of one"})}, ("ames",)),
    ],
)
def test_who_may_have_a_student(changes: dict[str, Any], allowed: tuple[str, ...]) -> None:
    """License, buildings, services and students to keep, each by itself."""
    question = district(owed("one", "a"))
    first, second = question.teachers
    assert bundles(replace(question, teachers=(replace(first, **changes), second)))[0].allowed == allowed


def test_a_student_nobody_may_have_is_told_with_the_reason() -> None:
    """And is counted as minutes that nobody has."""
    question = district(owed("one", "a", field=VISION), owed("two", "a"))
    assert bundles(question)[0].why_nobody == "No teacher has a license for vision."
    found = propose(question, effort=3)[0]
    assert "one" not in found.assignment
    assert (found.figures.owed, found.figures.nobody, found.figures.unplaced) == (60, 30, 30)


def test_figures_of_a_change_by_hand_are_those_of_the_weeks() -> None:
    """Two schools 15 and 30 minutes along a road: what is driven there and back again can be added up by hand."""
    question = district(
        owed("one", "a", last="ames"), owed("two", "b", last="cole"), owed("three", "c", last="cole")
    )
    mine = price(question, {"one": "ames", "two": "ames", "three": "cole"})
    assert mine.favoring is Favoring.BY_HAND
    # There and back from the west to b is 2 * 15 minutes; a lies on the way. From the east to c: 2 * 10.
    assert (mine.figures.driving, mine.figures.unplaced) == (30 + 20, 0)
    assert (mine.figures.kept, mine.figures.could_keep) == (2, 3)
    assert (mine.figures.meetings, mine.figures.most_places, mine.figures.most_teachers) == (3, 2, 1)
    again = price(question, {**mine.assignment, "two": "cole"}, beside=mine)
    # Now 2 * 5 to a, and 2 * 25 from the east to b with c on the way.
    assert (again.figures.driving, again.figures.kept) == (10 + 50, 3)


BREAKS: list[tuple[Callable[[Staffing], Staffing], str]] = [
    (
        lambda one: replace(one, teachers=(replace(one.teachers[0], fields=frozenset({VISION})), one.teachers[1])),
        "Ames has no license for one.",
    ),
    (
        lambda one: replace(one, teachers=(replace(one.teachers[0], most_minutes=20), one.teachers[1])),
        "Ames has 30 minutes a week, 10 over the contract.",
    ),
    (
        lambda one: replace(
            one, teachers=(one.teachers[0], replace(one.teachers[1], keeps=frozenset({"student of one"})))
        ),
        "Cole is to keep a student who goes to Ames.",
    ),
]


@pytest.mark.parametrize(("change", "sentence"), BREAKS)
def test_a_change_by_hand_says_what_it_breaks(change: Callable[[Staffing], Staffing], sentence: str) -> None:
    """It is priced all the same."""
    found = price(change(district(owed("one", "a"))), {"one": "ames"})
    assert found.broken == (sentence,)
    assert found.figures.placed == 30


def test_a_parted_student_is_said() -> None:
    """Two services of one student with two teachers."""
    question = district(owed("one", "a", students=("ann",)), owed("two", "a", students=("ann",)))
    found = price(question, {"one": "ames", "two": "cole"})
    assert found.broken == ("Ames and Cole have services of one student or class in one field.",)


def test_a_proposal_comes_back_from_its_record() -> None:
    """Through JSON, all but the weeks."""
    found = propose(district(owed("one", "a"), owed("two", "c")), effort=3)[0]
    assert from_record(json.loads(json.dumps(as_record(found)))) == found


@pytest.mark.parametrize(
    ("made", "field"),
    [
        (lambda: district(owed("one", "nowhere")), "services"),
        (lambda: district(owed("one", "a"), teachers=(teacher("ames", "nowhere"),)), "base"),
        (lambda: district(owed("one", "a"), drive_minutes={}), "drive_minutes"),
        (
            lambda: district(
                owed("one", "a", students=("ann",)),
                teachers=tuple(teacher(one, "home a", keeps=frozenset({"ann"})) for one in ("ames", "cole")),
            ),
            "keeps",
        ),
    ],
)
def test_what_contradicts_itself_is_refused(made: Callable[[], Staffing], field: str) -> None:
    """With the field it stands in."""
    with pytest.raises(ProblemError) as caught:
        made()
    assert caught.value.field == field


def test_an_assignment_of_unknown_ids_is_refused() -> None:
    """A service or teacher that the question doesn't know."""
    question = district(owed("one", "a"))
    with pytest.raises(ProblemError):
        price(question, {"two": "ames"})
    with pytest.raises(ProblemError):
        price(question, {"one": "nobody"})
    assert question.services[0].field == APE
