"""docs/limits.md says each limit as it is."""

import re
from importlib import import_module

import pytest

from tests.databases import ROOT

ROW = re.compile(r"^\| [^|]+ \| ([\d,]+) \| `([\w.]+)\.(\w+)` \|$", re.MULTILINE)
TOLD = ROW.findall((ROOT / "docs" / "limits.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("figure", "module", "name"), TOLD)
def test_each_figure_is_its_constant(figure: str, module: str, name: str) -> None:
    """By the constant's own name, so that it can be found."""
    assert getattr(import_module(module), name) == int(figure.replace(",", ""))


def test_every_line_of_the_table_is_read() -> None:
    """Two lines are the table's head."""
    lines = (ROOT / "docs" / "limits.md").read_text(encoding="utf-8").splitlines()
    assert len(TOLD) == sum(line.startswith("|") for line in lines) - 2 > 20
