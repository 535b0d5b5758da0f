"""How students are called: told apart, and in sentences that were made without names. Our own rules, no source."""

import dataclasses

import pytest

from caseload.plans.naming import CODES_ONLY, NameCard, StudentNames, marked, unmarked

ANA = NameCard(1, "S01", "Ana", "Ruiz", "grade 3", "Elm")


def card(student: int, **changes: str) -> NameCard:
    return dataclasses.replace(ANA, student=student, code=f"S{student:02d}", **changes)


def test_one_of_a_name_is_called_by_it() -> None:
    names = StudentNames.of([ANA, card(2, first="Bo", last="Lind")])
    assert names.full == {1: "Ana Ruiz", 2: "Bo Lind"}
    assert names.short == {1: "Ana", 2: "Bo"}
    assert names.initials == {1: "A.R.", 2: "B.L."}
    assert names.tight == {1: "AR", 2: "BL"}


@pytest.mark.parametrize(
    ("changes", "mine", "theirs"),
    [
        ({"grade": "grade 5"}, "Ana Ruiz (grade 3)", "Ana Ruiz (grade 5)"),
        ({"school": "Oak"}, "Ana Ruiz (grade 3, Elm)", "Ana Ruiz (grade 3, Oak)"),
        ({}, "Ana Ruiz (grade 3, S01)", "Ana Ruiz (grade 3, S02)"),
        ({"first": "ANA", "grade": "grade 5"}, "Ana Ruiz (grade 3)", "ANA Ruiz (grade 5)"),
    ],
)
def test_two_of_one_name_are_told_apart(changes: dict[str, str], mine: str, theirs: str) -> None:
    names = StudentNames.of([ANA, card(2, **changes), card(3, first="Bo")])
    assert names.full == {1: mine, 2: theirs, 3: "Bo Ruiz"}
    assert {names.tight[1], names.tight[2]} == {mine, theirs}
    assert [names.initials[one] for one in (1, 2)] == ["A.R. S01", "A.R. S02"]
    assert {names.short[1], names.short[2]} == {mine, theirs}


@pytest.mark.parametrize(
    ("last", "short", "initials"),
    [("Lind", ("Ana R.", "Ana L."), ("A.R.", "A.L.")), ("Roth", ("Ana Ruiz", "Ana Roth"), ("A.Ru.", "A.Ro."))],
)
def test_two_of_one_first_name_are_told_apart_by_the_last(
    last: str, short: tuple[str, str], initials: tuple[str, str]
) -> None:
    names = StudentNames.of([ANA, card(2, last=last)])
    assert (names.short[1], names.short[2]) == short
    assert (names.initials[1], names.initials[2]) == initials


def test_short_names_differ_among_those_shown_together_only() -> None:
    names = StudentNames.of([ANA, card(2, last="Lind", grade="grade 5"), card(3, grade="grade 5")], among=[1])
    assert names.short == {1: "Ana"}
    assert names.full[1] == "Ana Ruiz (grade 3)"


def test_a_sentence_says_the_name_to_whom_may_see_it_and_the_code_to_others() -> None:
    text = f"{marked('S01')} + {marked('S09')} at 9:01, room S01."
    assert StudentNames.of([ANA]).told(text) == "Ana Ruiz + S09 at 9:01, room S01."
    assert CODES_ONLY.told(text) == unmarked(text) == "S01 + S09 at 9:01, room S01."
