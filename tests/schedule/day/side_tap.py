"""A process of its own that taps: ``python -m tests.schedule.day.side_tap ACTION NUMBER MOMENT``.

`prepare` makes a day with a drive; `start` and `arrive` wait for the moment and print the drive's id.
"""

import sys
import time

import django

django.setup()

# Rows can be imported only once Django is set up.
from accounts.models import Person  # noqa: E402 -- see above
from schedule.day.selectors.sheet import day_sheet  # noqa: E402 -- see above
from schedule.day.services import leg_arrive, leg_start  # noqa: E402 -- see above
from schedule.weeks.selectors.pages import district_today  # noqa: E402 -- see above
from tests.browser.today import DRIVER, make_today  # noqa: E402 -- see above

SERVICES = {"start": leg_start, "arrive": leg_arrive}


def main(action: str, number: str, moment: str) -> None:
    """Wait for the moment, act, print."""
    if action == "prepare":
        make_today()
        sys.stdout.write("ready")
        return
    teacher = Person.objects.get(username=DRIVER)
    today = district_today(teacher)
    (leg,) = [line.leg.key for line in day_sheet(teacher, teacher, today).lines if line.leg is not None]
    time.sleep(max(float(moment) - time.time(), 0))
    sys.stdout.write(str(SERVICES[action](actor=teacher, date=today, leg=leg).pk))


if __name__ == "__main__":
    main(*sys.argv[1:])
