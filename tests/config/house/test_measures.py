"""Functions and files stay small enough to be read at one sitting, by figures that anyone can work out.

Cyclomatic complexity after McCabe (A Complexity Measure, IEEE Transactions on Software Engineering SE-2, 1976), who
proposes 10 as the most, counted by radon; unlike ruff's rule it counts the branches of expressions, too. The
most lines of a file and the median of a function are this house's own.
"""

import ast
import statistics
import subprocess
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from radon.complexity import cc_visit
from radon.visitors import Class, Function

ROOT = Path(__file__).resolve().parents[3]
FLOORS = ("accounts", "caseload", "config", "jobs", "schedule", "travel")
MOST_BRANCHES, MOST_LINES, MEDIAN_LINES = 10, 400, 7


def modules() -> list[str]:
    """Every module of a floor but migrations."""
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    paths = [Path(line) for line in listed.stdout.splitlines()]
    return [str(one) for one in paths if one.parts[0] in FLOORS and "migrations" not in one.parts]


def complexities(source: str) -> dict[str, int]:
    """Complexity by function; a method has its class before its name."""
    return {one.fullname: one.complexity for one in _functions(cc_visit(source))}


def _functions(blocks: Iterable[Function | Class]) -> Iterator[Function]:
    for block in blocks:
        if isinstance(block, Class):
            yield from block.methods
            yield from _functions(block.inner_classes)
        else:
            yield block


def test_no_function_branches_more_than_ten_times() -> None:
    """Methods by themselves, each with its conditions and comprehensions."""
    over = [
        f"{file}: {name} {found}"
        for file in modules()
        for name, found in complexities((ROOT / file).read_text()).items()
        if found > MOST_BRANCHES
    ]
    assert over == []


def test_no_file_is_longer_than_400_lines() -> None:
    """Docstrings and all."""
    assert [file for file in modules() if len((ROOT / file).read_text().splitlines()) > MOST_LINES] == []


def test_half_of_all_functions_have_at_most_7_lines() -> None:
    """From `def` to the last line, docstring and all."""
    lengths = [
        (node.end_lineno or node.lineno) - node.lineno + 1
        for file in modules()
        for node in ast.walk(ast.parse((ROOT / file).read_text()))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    assert statistics.median(lengths) <= MEDIAN_LINES


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("return 1", 1),
        ("if a: return 1", 2),
        ("return [x for x in a if x]", 3),
        ("return a and b or c", 3),
        ("while a:\n  if b: break", 3),
    ],
)
def test_branches_are_counted_as_mccabe_does(body: str, expected: int) -> None:
    """One more than the decisions (the paper's section on programs without `goto`), each condition by itself."""
    indented = body.replace("\n", "\n    ")
    assert complexities(f"def one(a, b, c):\n    {indented}\n") == {"one": expected}
