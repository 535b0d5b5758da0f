"""Weeks planned one after the other: sessions that keep their usual day and time, and driving, by both choices.

    python -m benchmarks.weeks_in_a_row [--weeks 4] [--first 2026-11-30] [--seconds 60]

The invented county of the demo, in a database of its own that is discarded. Each choice plans all weeks in one
run, every week compared with those before it. In brackets: what the other choice would give in that week, the weeks
before it being as they are.
"""

import argparse
import datetime as dt
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def main() -> None:
    """Load the county, plan, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--weeks", type=int, default=4)
    parser.add_argument("--first", type=dt.date.fromisoformat, default=dt.date(2026, 11, 30), help="a Monday")
    parser.add_argument("--seconds", type=int, default=60, help="of search a week")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/county.sqlite3"
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        os.environ.setdefault("LOG_LEVEL", "WARNING")
        for command in (["migrate", "-v0"], ["load_demo"]):
            subprocess.run(
                [sys.executable, "manage.py", *command],
                cwd=ROOT,
                check=True,
                env=os.environ,
                stdout=subprocess.DEVNULL,
            )
        county = [sys.executable, "-m", "benchmarks.weeks_in_a_row_county"]
        county += [asked.first.isoformat(), str(asked.weeks), str(asked.seconds)]
        subprocess.run(county, cwd=ROOT, check=True, env=os.environ)


if __name__ == "__main__":
    main()
