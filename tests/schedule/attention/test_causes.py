"""What several rows share is said once: pure."""

from dataclasses import dataclass

import pytest

from schedule.attention.causes import closing_name, part_by_cause, sessions_words


@dataclass(frozen=True)
class Row:
    """A row as the grouping sees it."""

    name: str
    cause: str = ""
    kind: int = 1


def test_three_rows_of_one_cause_are_said_together_and_the_others_stand_alone() -> None:
    """Two of a cause, and rows without one, differ; the same words of another kind are another cause."""
    rows = [Row("a", "snow"), Row("b"), Row("c", "snow"), Row("d", "trip"), Row("e", "snow"), Row("f", "trip")]
    rows += [Row("g", "trip", kind=2), Row("h"), Row("i")]
    found = part_by_cause(rows)
    assert [[row.name for row in group] for group in found.shared] == [["a", "c", "e"]]
    assert "".join(row.name for row in found.differ) == "bdfghi"


def test_the_largest_cause_comes_first() -> None:
    """No row is lost or told twice."""
    rows = [Row(f"s{n}", "small") for n in range(3)] + [Row(f"l{n}", "large") for n in range(5)]
    found = part_by_cause(rows)
    assert [len(group) for group in found.shared] == [5, 3]
    assert sorted(row.name for group in found.shared for row in group) == sorted(row.name for row in rows)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Winter Recess - Schools Closed", "Winter Recess"),
        ("Winter Recess \N{EN DASH} no school", "Winter Recess"),
        ("Mid-winter Recess", "Mid-winter Recess"),
        ("  ", "closed"),
    ],
)
def test_a_closing_is_called_what_it_is(title: str, name: str) -> None:
    """What follows a dash says that nobody comes, which the sentence says as well."""
    assert closing_name(title, "Closed") == name


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ([1, 1], "One session"),
        ([2, 2], "2 sessions"),
        ([1, 2, None], "1 to 2 sessions"),
        ([None], "Part of a session"),
    ],
)
def test_how_many_sessions_are_missing(counts: list[int | None], words: str) -> None:
    """The same of all, or from the fewest to the most."""
    assert sessions_words(counts) == words
