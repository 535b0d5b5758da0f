"""The first run of a process gives what later ones give: compiling takes nothing from a run's clock."""

import subprocess
import sys
from pathlib import Path

FIRST_RUN = """
from schedule.planner.proving.walks import forward
from schedule.planner.term.plan import plan_term
from schedule.planner.term.template.anneal import anneal
from schedule.planner.term.term import Term
from tests.planner.term.builders import ann, at, week

compiled = []

def clock():
    compiled.append(bool(anneal.signatures and forward.signatures))
    return 0.0

PLANNING
print(compiled[0])
"""


def test_everything_is_compiled_before_the_clock_is_read() -> None:
    """In a process of its own, since this one may have compiled already."""
    planning = "plan_term(Term((week(1, ann(at(540))),)), effort=1.0, monotonic=clock, workers=1)"
    told = subprocess.run(
        [sys.executable, "-c", FIRST_RUN.replace("PLANNING", planning)],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[3],
    )
    assert told.stdout.split() == ["True"], told.stderr
