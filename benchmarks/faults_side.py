"""A process of its own for ``benchmarks.faults``: ``python -m benchmarks.faults_side DEED [WORDS]``.

`school` makes a district with teachers who have something to plan and a line to log for; `again` starts what broke
off, as a coordinator does; `work` is a worker whose clock is so many hours off, and which is then put off once more
every other second.
"""

import datetime as dt
import os
import sys
import threading
from collections.abc import Callable

import django

django.setup()

# Rows can be imported only once Django is set up.
import time_machine  # noqa: E402 -- see above
from django.core.management import execute_from_command_line  # noqa: E402 -- see above

from accounts.models import Person  # noqa: E402 -- see above
from jobs.models import Job  # noqa: E402 -- see above
from jobs.services import job_start_again  # noqa: E402 -- see above
from tests.conftest import make_cast, make_person  # noqa: E402 -- see above
from tests.schedule.builders import make_ground, make_line  # noqa: E402 -- see above
from tests.schedule.weeks.planning.two_teachers import make_rules  # noqa: E402 -- see above

TODAY = dt.datetime.now(tz=dt.UTC).date()
EVERY = 2.0
"""Seconds between two changes of a clock."""


def school(teachers: int) -> None:
    """So many teachers, `planner0` and so on, each with six services; prints a line of the teacher of the cast."""
    cast = make_cast()
    make_ground(cast)
    for number in range(teachers):
        teacher = make_person(cast.district, f"planner{number}", Person.Role.TEACHER)
        make_rules(cast, teacher)
        for one in range(6):
            make_line(cast, f"P{number}{one}", teacher=teacher, building=cast.north if one % 2 else cast.south)
    # Whenever this runs, what is logged is logged of yesterday.
    around = {"start": TODAY - dt.timedelta(days=200), "end": TODAY + dt.timedelta(days=200)}
    type(cast.plan).objects.filter(pk=cast.plan.pk).update(**around)
    type(cast.line).objects.filter(pk=cast.line.pk).update(**around)
    sys.stdout.write(str(cast.line.pk))


def again() -> None:
    """Start each job that broke off; prints how many there were."""
    begun = [job_start_again(job=job) for job in Job.objects.filter(state=Job.State.FAILED, broke_off=True)]
    sys.stdout.write(str(sum(begun)))


def nursery() -> None:
    """A worker, and another one as soon as it has ended, for ever; the program is loaded once for all of them."""
    while True:
        child = os.fork()
        if child == 0:
            execute_from_command_line(["manage.py", "work"])
            os._exit(0)
        os.waitpid(child, 0)


def work(hours: float, jump: float) -> None:
    """A worker so many hours off, whose clock then jumps by `jump` hours, back and forth."""
    there = dt.datetime.now(tz=dt.UTC) + dt.timedelta(hours=hours)
    with time_machine.travel(there, tick=True) as clock:

        def change(step: float) -> None:
            clock.shift(dt.timedelta(hours=step))
            _later(lambda: change(-step))

        if jump:
            _later(lambda: change(jump))
        execute_from_command_line(["manage.py", "work"])


def _later(act: Callable[[], None]) -> None:
    timer = threading.Timer(EVERY, act)
    timer.daemon = True
    timer.start()


def main(deed: str, *words: str) -> None:
    """Do it."""
    if deed == "school":
        school(int(words[0]))
    elif deed in {"again", "nursery"}:
        {"again": again, "nursery": nursery}[deed]()
    else:
        work(float(words[0]), float(words[1]))


if __name__ == "__main__":
    main(*sys.argv[1:])
