"""A process that answers a common meeting: ``python -m tests.schedule.meetings.side_meetings ACTION``."""

import sys
import time

import django

django.setup()

# Rows can be imported only once Django is set up.
from accounts.models import Person  # noqa: E402 -- see above
from schedule.meetings.models import CommonMeeting  # noqa: E402 -- see above
from schedule.meetings.services import common_meeting_answer, common_meeting_save  # noqa: E402 -- see above
from tests.conftest import make_cast, make_person  # noqa: E402 -- see above
from tests.schedule.builders import at  # noqa: E402 -- see above

MATES = 3


def prepare(number: int) -> str:
    """A teacher asks three colleagues."""
    del number
    cast = make_cast()
    mates = [make_person(cast.district, f"mate{one}", Person.Role.TEACHER) for one in range(MATES)]
    values = {"title": "Team", "weekday": 1, "start": at("9:00"), "end": at("10:00"), "people": mates}
    common_meeting_save(actor=cast.teacher, row=CommonMeeting(district=cast.district), values=values)
    return "ready"


def answer(number: int) -> str:
    """Each colleague comes, while the last process gives it another title."""
    row = CommonMeeting.objects.prefetch_related("teachers", "asked").get()
    if number == MATES:
        caller = row.called_by
        assert caller is not None
        common_meeting_save(actor=caller, row=row, values={"title": "Team of four"})
    else:
        common_meeting_answer(actor=Person.objects.get(username=f"mate{number}"), row=row, comes=True)
    return "done"


ACTIONS = {"prepare": prepare, "answer": answer}


def main(action: str, number: str, moment: str) -> None:
    """Wait for the moment, act, print."""
    Person.objects.exists()
    time.sleep(max(float(moment) - time.time(), 0))
    sys.stdout.write(ACTIONS[action](int(number)))


if __name__ == "__main__":
    main(*sys.argv[1:])
