"""Which students may be joined."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from caseload.plans.grades import GRADES
from schedule.weeks.groups import Joinable, choose_groups, in_chunks


def line(number: int, grade: str = "3", largest: int = 6, student: str = "") -> Joinable:
    return Joinable(f"line-{number}", student or f"S{number}", grade, largest)


def test_every_group_within_the_limits_is_tried() -> None:
    choice = choose_groups([line(n) for n in range(4)], largest=3, grades_apart=0)
    assert len(choice.groups) == 6 + 4
    assert not choice.narrowed


def test_grades_too_far_apart_are_not_joined() -> None:
    choice = choose_groups([line(1, "K"), line(2, "2"), line(3, "3")], largest=6, grades_apart=1)
    assert choice.groups == (("line-2", "line-3"),)


def test_the_smallest_limit_among_the_lines_counts() -> None:
    choice = choose_groups([line(1), line(2, largest=2), line(3)], largest=6, grades_apart=3)
    assert ("line-1", "line-2", "line-3") not in choice.groups
    assert {frozenset(group) for group in choice.groups} == {
        frozenset(pair) for pair in combinations(("line-1", "line-2", "line-3"), 2)
    }


def test_a_line_that_allows_one_student_is_in_no_group() -> None:
    choice = choose_groups([line(1, largest=1), line(2), line(3)], largest=6, grades_apart=3)
    assert choice.groups == (("line-2", "line-3"),)


def test_a_student_is_not_joined_with_oneself() -> None:
    assert choose_groups([line(1, student="S1"), line(2, student="S1")], largest=6, grades_apart=3).groups == ()


def test_too_many_groups_are_narrowed_to_neighbors_and_said_so() -> None:
    choice = choose_groups([line(n) for n in range(12)], largest=6, grades_apart=3, most=60)
    assert choice.narrowed
    assert len(choice.groups) == sum(12 - size + 1 for size in range(2, 7))
    again = choose_groups([line(n) for n in reversed(range(12))], largest=6, grades_apart=3, most=60)
    assert again == choice


@given(
    st.lists(st.tuples(st.sampled_from(GRADES), st.integers(1, 6)), max_size=14),
    st.integers(1, 6),
    st.integers(0, 4),
)
def test_no_group_ever_breaks_a_limit(lines: list[tuple[str, int]], largest: int, apart: int) -> None:
    known = {f"line-{n}": line(n, grade, limit) for n, (grade, limit) in enumerate(lines)}
    for group in choose_groups(list(known.values()), largest=largest, grades_apart=apart).groups:
        members = [known[key] for key in group]
        assert 2 <= len(members) <= min(largest, *(one.largest for one in members))
        grades = [GRADES.index(one.grade) for one in members]
        assert max(grades) - min(grades) <= apart


def test_a_class_is_split_as_evenly_as_its_ratio_asks() -> None:
    assert in_chunks("abcdefghi", 8) == (tuple("abcde"), tuple("fghi"))
    assert in_chunks("abc", 8) == (tuple("abc"),)
