"""Libraries that are loaded when they are first used: no command and no web process waits for all of them."""

import subprocess
import sys

import pytest

from jobs.later import later
from tests.databases import ROOT

SLOW = {"ortools", "pandas", "scipy.stats"}
START = """
import sys
import django
django.setup()
import config.urls
print(*sys.modules)
"""


@pytest.mark.long
def test_a_process_starts_without_what_it_may_never_use() -> None:
    """All models, all pages and the API, in a process of its own."""
    done = subprocess.run([sys.executable, "-c", START], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert {"django", "schedule.stations.services", "caseload.progress.trend"} <= loaded
    assert loaded & SLOW == set()


def test_it_is_the_module_once_it_is_asked() -> None:
    fractions = later("fractions")
    assert fractions.Fraction(1, 3) * 3 == 1


def test_a_module_that_is_not_there_says_so_when_it_is_asked() -> None:
    nothing = later("no_such_module_of_ours")
    with pytest.raises(ImportError, match="no_such_module_of_ours"):
        _ = nothing.anything
