"""A process of its own that publishes.

Run as ``python -m tests.schedule.weeks.planning.side_publish ACTION NUMBER MOMENT``.

`prepare` makes two teachers' drafts with one student in two rooms at once, `prepare_gym` with a student each in one
gym; `publish` waits for the moment, puts the draft of that number in force and prints what it was told.
"""

import sys
import time

import django

django.setup()

# Rows can be imported only once Django is set up.
from accounts.errors import ApplicationError  # noqa: E402 -- see above
from schedule.weeks.models import WeekPlan  # noqa: E402 -- see above
from tests.conftest import make_cast  # noqa: E402 -- see above
from tests.schedule.builders import date, make_line, make_week  # noqa: E402 -- see above
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish  # noqa: E402 -- see above


def main(action: str, number: str, moment: str) -> None:
    """Wait for the moment, act, print."""
    if action == "prepare_gym":
        cast = make_cast()
        make_two_teachers(cast)
        for code, teacher in (("G1", cast.mate), ("G2", cast.teacher)):
            line = make_line(cast, code, teacher=teacher, setting="one_to_one", largest_group=1)
            line.allowed_spaces.set([cast.gym])
            make_week(cast, [(f"line-{line.pk}", date(0), "8:30")], teacher=teacher)
        sys.stdout.write("ready")
        return
    if action == "prepare":
        cast = make_cast()
        lines = [(cast.mate, make_two_teachers(cast)), (cast.teacher, cast.line)]
        for teacher, line in lines:
            unit = f"line-{line.pk}"
            make_week(cast, [(unit, date(0), "8:30"), (unit, date(2), "8:30")], teacher=teacher)
        sys.stdout.write("ready")
        return
    week = WeekPlan.objects.select_related("teacher").order_by("pk")[int(number)]
    time.sleep(max(float(moment) - time.time(), 0))
    try:
        sys.stdout.write(publish(week).get_status_display())
    except ApplicationError as error:
        sys.stdout.write(f"{error.code}: {error.message}")


if __name__ == "__main__":
    main(*sys.argv[1:])
