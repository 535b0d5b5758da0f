"""A calendar program that subscribes reads each event as it is said, and the usual day once it is taken back."""

from pathlib import Path

import pytest

from tests.schedule.feeds.test_clients import (
    PREPARE,
    Server,
    Subscriber,
    lines_with,
    server,  # noqa: F401 -- a fixture is found by its name
)

pytestmark = [pytest.mark.clients, pytest.mark.long]
# What stood is taken back first, so that each event is said of the usual day. SAID stands for what is said.
SAY = """
import datetime as dt
from accounts.models import Person
from caseload.models import Student
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.models import Happening
teacher = Person.objects.get(username="teacher")
monday = dt.date.fromisoformat("{monday}")
for row in Happening.objects.standing():
    happening_take_back(actor=teacher, row=row)
for values in [SAID]:
    happening_say(actor=teacher, values=values)
"""
CANCELED, SHORT, LATER, USUAL = "Canceled: Adapted PE", "09:20-09:35", "09:35-09:50", "09:20-09:50"
EVENTS = {
    'dict(kind="away", first_date=monday)': CANCELED,
    'dict(kind="early_dismissal", first_date=monday, start=dt.time(9, 35))': SHORT,
    'dict(kind="closed", first_date=monday)': CANCELED,
    'dict(kind="delayed_opening", first_date=monday, end=dt.time(9, 35))': LATER,
    'dict(kind="student_absent", first_date=monday, student=Student.objects.get(code="S01"))': CANCELED,
    "": USUAL,
}
"""The Monday's one session is from 9:20 to 9:50; 10 minutes are the least that is held, as shipped."""


def test_khal_reads_each_event(server: Server, tmp_path: Path) -> None:  # noqa: F811 -- the fixture
    """Fetched by vdirsyncer each time; the session is there once, canceled or with what is left of it."""
    home = tmp_path / "home"
    home.mkdir()
    subscriber = Subscriber(home, form="{start-date} {start-time}-{end-time} {title} [{status}]")
    subscriber.start(server.run(PREPARE))
    for said, comes in [("", USUAL), *EVENTS.items()]:
        server.run(SAY.replace("SAID", said))
        (line,) = lines_with(subscriber.sync(), f"{server.monday}", "Adapted PE")
        assert comes in line, said
        assert ("CANCELLED" in line) == (comes == CANCELED), said
