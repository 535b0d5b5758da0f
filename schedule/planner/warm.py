"""Compile the search once, so that the first person to plan a week doesn't have to wait for it.

Numba keeps what it compiles beside this package (or in ``NUMBA_CACHE_DIR``), apart for each state of the
sources that are compiled (``labels.sources_key``). Run at set-up: ``python -m schedule.planner.warm``.
"""

import time

from schedule.planner.assign.propose import make_assigning_ready
from schedule.planner.term.ready import make_ready


def warm_up() -> float:
    """Pass through every compiled function once; the seconds that it took."""
    began = time.monotonic()
    make_ready()
    make_assigning_ready()
    return time.monotonic() - began


if __name__ == "__main__":
    warm_up()
