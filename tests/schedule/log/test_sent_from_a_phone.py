"""Any sequence of taps, losses and repeats leaves the ledger as the person meant it, whoever logs beside."""

import datetime as dt
import uuid
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from caseload.delivery.models import DeliveryEntry
from schedule.log.selectors.ledger import student_ledger
from schedule.weeks.models import PlannedSession
from tests.conftest import Cast
from tests.schedule.log_builders import bring_to_now, publish_session

pytestmark = [pytest.mark.django_db, pytest.mark.long]
MINUTES = 30
STARTS = (("8:30", "9:00"), ("9:30", "10:00"), ("10:30", "11:00"))
LOST, UNANSWERED, ANSWERED = "lost", "unanswered", "answered"
WHICH, MISSED = st.integers(0, len(STARTS) - 1), st.booleans()
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("log"), WHICH, MISSED),
        st.tuples(st.just("undo"), WHICH, st.just(False)),
        st.tuples(st.just("desk"), WHICH, MISSED),
        st.tuples(st.just("repeat"), st.integers(0, 20), st.just(False)),
        st.tuples(st.sampled_from([LOST, UNANSWERED, ANSWERED]), st.integers(1, 3), st.just(False)),
    ),
    min_size=3,
    max_size=14,
)


@dataclass(frozen=True)
class Sending:
    """What lies in the phone's queue: `means` is the minutes, None where a log is taken back."""

    path: str
    body: dict[str, Any]
    key: str
    which: int
    means: int | None
    of: str = ""


@dataclass
class World:
    """The phone's queue, what was ever on its way, and what should stand: minutes by session and by whose key."""

    sessions: list[PlannedSession]
    line: int
    phone: Client
    desk: Client
    queue: list[Sending] = field(default_factory=list)
    gone: list[Sending] = field(default_factory=list)
    stands: dict[int, tuple[int, str]] = field(default_factory=dict)
    done: set[str] = field(default_factory=set)
    undone: set[str] = field(default_factory=set)

    def logged(self, which: int, *, missed: bool) -> Sending:
        """A tap on a session: as planned, or absent."""
        key = str(uuid.uuid4())
        told = [{"service_line": self.line, "reason": "student_absent"}] if missed else []
        noted = (timezone.now() - dt.timedelta(hours=1)).isoformat()
        body = {"session": str(self.sessions[which].uid), "client_id": key, "exceptions": told, "noted_at": noted}
        return Sending("session-logs/", body, key, which, 0 if missed else MINUTES)

    def step(self, what: str, number: int, *, missed: bool) -> None:
        """One thing that happens."""
        if what == "log":
            self.queue.append(self.logged(number, missed=missed))
        elif what == "undo":
            self._undo(number)
        elif what == "desk":
            self.arrives(self.logged(number, missed=missed), self.desk)
        elif what == "repeat" and self.gone:
            self.arrives(self.gone[number % len(self.gone)], self.phone)
        else:
            self._send(what, number)

    def _undo(self, which: int) -> None:
        """Of the phone's own log of a session, as far as it knows that the server has it."""
        mine = [one for one in self.gone if one.which == which and one.path == "session-logs/"]
        if mine:
            body = {"client_id": mine[-1].key}
            self.queue.append(Sending("log-undos/", body, str(uuid.uuid4()), which, None, mine[-1].key))

    def _send(self, fate: str, count: int) -> None:
        for _ in range(min(count, len(self.queue))):
            if fate == LOST:
                return
            self.arrives(self.queue[0], self.phone)
            if fate == UNANSWERED:
                return
            self.queue.pop(0)

    def arrives(self, one: Sending, whose: Client) -> None:
        """The server gets it; the model says what it should do with it: once, and only where it still may."""
        answer = whose.post(
            f"/api/1/{one.path}", one.body, content_type="application/json", headers={"Idempotency-Key": one.key}
        )
        assert answer.status_code in {201, 404, 409}, answer.content
        if whose is self.phone and one not in self.gone:
            self.gone.append(one)
        if one.key in self.done:
            assert answer.json()["code"] == "taken_before"
            return
        taken = self._counts(one)
        assert (answer.status_code == 201) == taken, (one, answer.content)
        if taken:
            self.done.add(one.key)

    def _counts(self, one: Sending) -> bool:
        here = self.stands.get(one.which)
        if one.means is None:
            # Undo pressed twice says again that it is taken back, and takes back nothing else.
            if one.of in self.undone:
                return True
            if here is None or here[1] != one.of:
                return False
            del self.stands[one.which]
            self.undone.add(one.of)
            return True
        if here is not None:
            return False
        self.stands[one.which] = (one.means, one.key)
        return True


def client_of(person: Any) -> Client:
    found = Client()
    found.force_login(person)
    return found


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(steps=STEPS)
@example([("log", 2, False), (ANSWERED, 1, False), ("undo", 2, False), ("undo", 2, False)])
@example(
    [("log", 2, False), (ANSWERED, 1, False), *[("undo", 2, False)] * 2, (ANSWERED, 1, False), ("desk", 2, True)]
)
def test_the_ledger_is_what_was_meant(cast: Cast, steps: list[tuple[str, int, bool]]) -> None:
    """Each sending counts once however often it arrives, what comes too late is refused, and nothing is doubled."""
    with transaction.atomic():
        today = timezone.localdate()
        bring_to_now(cast, today)
        sessions = [publish_session(today, [cast.line], start, end) for start, end in STARTS]
        world = World(sessions, cast.line.pk, client_of(cast.teacher), client_of(cast.coordinator))
        for what, number, missed in steps:
            world.step(what, number, missed=missed)
        while world.queue:
            world.step(ANSWERED, len(world.queue), missed=False)
        for one in world.gone:
            if one.key in world.done:
                world.arrives(one, world.phone)
        (line,) = student_ledger(cast.teacher, cast.student, today).lines
        assert line.figures.delivered == sum(minutes for minutes, _ in world.stands.values())
        assert sum(line.figures.missed.values()) == MINUTES * sum(not told for told, _ in world.stands.values())
        rows = DeliveryEntry.objects.filter(student=cast.student)
        assert rows.count() == len(set(rows.values_list("session_uid", flat=True)))
        transaction.set_rollback(True)
