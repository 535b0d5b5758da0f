"""A list in pages: which rows, which addresses. Our own way, no source."""

import pytest
from django.test import RequestFactory

from accounts.pages import ListPage, list_page

ROWS = list(range(1, 26))


def page(asked: str, size: int = 10) -> ListPage[int]:
    return list_page(RequestFactory().get(f"/list/{asked}"), ROWS, size=size)


@pytest.mark.parametrize(
    ("asked", "rows", "before", "after"),
    [
        ("", range(1, 11), "", "?page=2"),
        ("?page=2", range(11, 21), "?page=1", "?page=3"),
        ("?page=3", range(21, 26), "?page=2", ""),
        ("?page=99", range(21, 26), "?page=2", ""),
        ("?page=x", range(1, 11), "", "?page=2"),
    ],
)
def test_each_row_is_on_one_page(asked: str, rows: range, before: str, after: str) -> None:
    """A number too high is the last page, as when rows went meanwhile; what is no number is the first."""
    found = page(asked)
    assert (list(found.rows), found.before, found.after) == (list(rows), before, after)
    assert (found.first, found.last, found.count) == (rows[0], rows[-1], 25)
    assert found.steps == ((1, "?page=1"), (2, "?page=2"), (3, "?page=3"))


def test_what_else_is_asked_for_stays() -> None:
    """Another list of the same page too, and what would end an address is written out."""
    found = page("?building=3&teachers=2&page=1&words=a%26b")
    assert found.after == "?building=3&teachers=2&page=2&words=a%26b"


def test_a_short_list_has_no_steps() -> None:
    assert page("", size=25).steps == ()


def test_of_many_pages_some_are_left_out() -> None:
    """The first ones, the last ones and those beside the one that is shown stay."""
    steps = [number for number, _ in page("?page=13", size=1).steps]
    assert steps[:2] == [1, 2]
    assert steps[-2:] == [24, 25]
    assert {12, 13, 14} < set(steps)
    assert 0 in steps
    assert len(steps) < 25
