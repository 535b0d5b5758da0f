"""Addresses, tables, commands and columns stay what others hold on to, unless somebody says so in a list.

The lists were first written by the code as it stood before its modules moved into rooms (commit 007b185), and the
moves changed none of them. The API is held by docs/openapi.yaml (test_api_schema.py), the problem file by
docs/problem.schema.json.
"""

import pytest

from tests.config.house.surface import LISTS, SURFACE


@pytest.mark.parametrize("name", SURFACE)
def test_the_list_is_the_one_checked_in(name: str) -> None:
    """Nothing is gone, renamed or added without its line."""
    kept = (LISTS / f"{name}.txt").read_text().splitlines()
    now = SURFACE[name]()
    assert {"gone": [one for one in kept if one not in now], "new": [one for one in now if one not in kept]} == {
        "gone": [],
        "new": [],
    }, "If that is meant, see tests.config.house.surface."
    assert now == kept


def test_no_two_routes_have_one_name_or_one_address() -> None:
    """A name leads to one address, and an address to one page."""
    pairs = [line.rsplit(" ", 1) for line in SURFACE["addresses"]()]
    assert len({address for address, _ in pairs}) == len(pairs)
    assert len({name for _, name in pairs}) == len(pairs)
