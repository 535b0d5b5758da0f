"""A process of its own that writes the log: ``python -m tests.schedule.log.side_log ACTION NUMBER MOMENT``.

`prepare` makes the cast and a session; the other actions wait for the moment and print what came of it.
"""

import datetime as dt
import sys
import threading
import time
import uuid
from collections.abc import Callable
from typing import Any

import django

django.setup()

# Rows can be imported only once Django is set up.
from django.db import connection, connections  # noqa: E402 -- see above

from accounts.errors import ApplicationError  # noqa: E402 -- see above
from accounts.models import Person  # noqa: E402 -- see above
from caseload.delivery.models import DeliveryEntry  # noqa: E402 -- see above
from caseload.delivery.services.log import delivery_correct  # noqa: E402 -- see above
from caseload.delivery.services.undo import sending_undo  # noqa: E402 -- see above
from caseload.delivery.told import Outcome  # noqa: E402 -- see above
from schedule.log.services import session_log  # noqa: E402 -- see above
from schedule.weeks.models import PlannedSession  # noqa: E402 -- see above
from tests.conftest import make_cast  # noqa: E402 -- see above
from tests.schedule.builders import MONDAY, make_line  # noqa: E402 -- see above
from tests.schedule.log_builders import evening_of, log_session, publish_session  # noqa: E402 -- see above

NOW = evening_of(MONDAY)
WEEK = dt.timedelta(days=7)
STATEMENTS_AT_MOST = 100
SAME = uuid.UUID("00000000-0000-4000-8000-000000000001")


def prepare(number: int) -> str:
    """One session of three students to log, and one that is logged."""
    cast = make_cast()
    publish_session(MONDAY, [make_line(cast, code) for code in ("P1", "P2", "P3")], "10:00", "10:30")
    log_session(cast.teacher, publish_session(MONDAY, [cast.line]))
    return "ready"


def correct(number: int) -> str:
    """Correct the one entry, seen at revision 1."""
    entry = DeliveryEntry.objects.get(service_line__plan__student__code="S01")
    outcome = Outcome(number, "testing")
    delivery_correct(actor=_coordinator(), entry=entry, outcome=outcome, expected_revision=1, now=NOW)
    return "stored"


def log_same(number: int) -> str:
    """Log the session under the one client id: the answer is the stored entries."""
    return _log(SAME)


def log_other(number: int) -> str:
    """Log it under a client id of this process."""
    return _log(uuid.uuid4())


def log_between(number: int) -> str:
    """Log one session after the other; before a statement of each, a later one each time, the same tap comes too.

    Goes on until that is the statement that writes. Prints how many sessions that were, or what went wrong.
    """
    cast = make_cast()
    lines = [make_line(cast, code) for code in ("P1", "P2", "P3")]
    for round_ in range(STATEMENTS_AT_MOST):
        session = publish_session(MONDAY - round_ * WEEK, lines, "10:00", "10:30")
        tap = _Between(session, uuid.uuid4(), before=round_)
        with connection.execute_wrapper(tap):
            entries = _session_log(session, tap.client_id)
        if not tap.answer:
            return f"{round_} times the same"
        if tap.answer != {entry.pk for entry in entries}:
            return f"before statement {round_}: {tap.answer}, not {entries}"
    return "never wrote"


class _Between:
    """Sends the same tap from a connection of its own before one statement, if nothing was written until then."""

    def __init__(self, session: PlannedSession, client_id: uuid.UUID, before: int) -> None:
        self.session, self.client_id, self.left = session, client_id, before
        self.answer: set[int] = set()
        self.wrote = False

    def __call__(self, execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        self.wrote = self.wrote or sql.startswith('INSERT INTO "caseload_deliveryentry"')
        if self.left == 0 and not self.wrote:
            thread = threading.Thread(target=self._send)
            thread.start()
            thread.join()
        self.left -= 1
        return execute(sql, *rest)

    def _send(self) -> None:
        try:
            self.answer = {entry.pk for entry in _session_log(self.session, self.client_id)}
        finally:
            connections.close_all()


def prepare_undo(number: int) -> str:
    """The session of three, logged with one tap."""
    prepare(number)
    return log_same(number)


def undo_same(number: int) -> str:
    """Take back what the one tap logged."""
    done = sending_undo(actor=_coordinator(), sending=SAME, now=NOW)
    return f"taken back:{len(done.entries)}"


def undo_or_correct(number: int) -> str:
    """The first takes the tap back, the others correct one of its entries, seen at revision 1."""
    if number == 0:
        return undo_same(number)
    entry = DeliveryEntry.objects.get(service_line__plan__student__code="P2")
    outcome = Outcome(number, "testing")
    delivery_correct(actor=_coordinator(), entry=entry, outcome=outcome, expected_revision=1, now=NOW)
    return "stored"


def _log(client_id: uuid.UUID) -> str:
    session = PlannedSession.objects.get(planner_key__startswith="line-", start="10:00")
    entries = _session_log(session, client_id)
    return "stored:" + ",".join(str(entry.pk) for entry in entries)


def _session_log(session: PlannedSession, client_id: uuid.UUID) -> list[DeliveryEntry]:
    return session_log(actor=_coordinator(), session=session, client_id=client_id, now=NOW)


def _coordinator() -> Person:
    return Person.objects.get(username="coordinator")


ACTIONS = {
    "prepare": prepare,
    "prepare_undo": prepare_undo,
    "correct": correct,
    "log_same": log_same,
    "log_other": log_other,
    "log_between": log_between,
    "undo_same": undo_same,
    "undo_or_correct": undo_or_correct,
}


def main(action: str, number: str, moment: str) -> None:
    """Wait for the moment, act, print."""
    Person.objects.exists()
    time.sleep(max(float(moment) - time.time(), 0))
    try:
        text = ACTIONS[action](int(number))
    except ApplicationError as error:
        text = error.code
    sys.stdout.write(text)


if __name__ == "__main__":
    main(*sys.argv[1:])
