"""A published week with a clock, and a mail server that really answers."""

import socket
from collections.abc import Iterator
from dataclasses import dataclass, field
from email.message import EmailMessage
from email.parser import BytesParser
from email.policy import default
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests.schedule.feeds.conftest import Ground, clock, ground, no_misses

__all__ = ["clock", "ground", "no_misses"]


@dataclass
class MailServer:
    """What it was sent. `says`: its answer to the message, `refuses`: addresses that it doesn't know."""

    port: int = 0
    says: str = "250 OK"
    refuses: set[str] = field(default_factory=set)
    mails: list[EmailMessage] = field(default_factory=list)

    async def handle_RCPT(  # noqa: N802 -- aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        """Take an address or refuse it for good (RFC 5321 section 4.2.3: 550)."""
        if address in self.refuses:
            return "550 no such user"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802 -- the same
        """Keep what is taken."""
        if self.says.startswith("250"):
            content: Any = envelope.content
            self.mails.append(BytesParser(policy=default).parsebytes(content))
        return self.says

    @property
    def to(self) -> list[str]:
        """Addresses, sorted."""
        return sorted(str(one["To"]) for one in self.mails)


@pytest.fixture
def mail_server(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[MailServer]:
    """A server on loopback, and the program set up to use it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        server = MailServer(probe.getsockname()[1])
    controller = Controller(server, hostname="127.0.0.1", port=server.port)
    controller.start()
    try:
        smtp = {
            "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
            "OPTIONS": {"host": "127.0.0.1", "port": server.port, "timeout": 20},
        }
        # In place: Django's handler of mail keeps the mapping that it saw first.
        monkeypatch.setitem(settings.MAILERS, "default", smtp)
        yield server
    finally:
        controller.stop()


@pytest.fixture
def addressed(ground: Ground) -> Ground:
    """Everyone has an address."""
    cast = ground.cast
    for person in (cast.teacher, cast.mate, cast.coordinator, cast.office, cast.substitute, cast.stranger):
        person.email = f"{person.username}@school.example"
        person.save()
    return ground


@pytest.fixture
def no_mail_server(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Mail is printed, as it is where nobody named a server."""
    console = {"BACKEND": "django.core.mail.backends.console.EmailBackend"}
    monkeypatch.setitem(settings.MAILERS, "default", console)
