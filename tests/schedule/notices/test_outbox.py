"""A message leaves once, is tried again, and what became of it is kept. Against a mail server that answers."""

import datetime as dt
from typing import Any

import pytest

from accounts.errors import ApplicationError
from schedule.notices.models import Notice
from schedule.notices.selectors.hearers import Hearer
from schedule.notices.services import outbox, ways
from schedule.notices.services.outbox import (
    NO_SERVER,
    TRIES,
    notice_add,
    notice_again,
    notice_send,
    notices_ask_due,
)
from schedule.notices.services.settings import trial_send
from schedule.notices.wording import Message
from tests.schedule.feeds.conftest import Ground
from tests.schedule.notices.conftest import MailServer

MESSAGE = Message("Tomorrow: 1 change", ("8:30 Room 4: not held.",))


def add(ground: Ground, key: str = "k") -> Notice:
    """A message to the teacher."""
    cast = ground.cast
    row = notice_add(
        key=key, hearer=Hearer(person=cast.teacher), message=MESSAGE, district=cast.district, now=ground.clock.now
    )
    assert row is not None
    return row


def state(row: Notice) -> tuple[str, int]:
    """What became of it."""
    row.refresh_from_db()
    return row.state, row.tries


def test_it_arrives_once(addressed: Ground, mail_server: MailServer) -> None:
    """As it was written, with an identifier of its own; a second try sends nothing."""
    row = add(addressed)
    assert notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert mail_server.to == ["teacher@school.example"]
    mail = mail_server.mails[0]
    assert (mail["Subject"], mail["Message-ID"]) == ("Tomorrow: 1 change", f"<{row.uid}@minutes-and-miles>")
    # RFC 3834 section 5: so that no out-of-office reply comes back.
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail.get_content().strip() == "8:30 Room 4: not held."
    assert state(row) == ("sent", 1)


def test_the_same_is_never_written_twice(addressed: Ground, mail_server: MailServer) -> None:
    """However often the work is done."""
    add(addressed)
    cast = addressed.cast
    again = notice_add(
        key="k",
        hearer=Hearer(person=cast.teacher),
        message=MESSAGE,
        district=cast.district,
        now=addressed.clock.now,
    )
    assert again is None
    assert Notice.objects.count() == 1


def test_a_server_that_says_later_is_asked_again(addressed: Ground, mail_server: MailServer) -> None:
    """RFC 5321 section 4.2.1: 4yz is for now. It arrives when the server takes it."""
    row = add(addressed)
    mail_server.says = "451 try again later"
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert state(row) == ("waiting", 1)
    assert "451" in row.problem
    assert not Notice.objects.due_at(addressed.clock.now).exists()
    mail_server.says = "250 OK"
    addressed.clock.now += TRIES[0]
    assert Notice.objects.due_at(addressed.clock.now).exists()
    assert notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert state(row) == ("sent", 2)
    assert row.problem == ""


def test_in_the_end_it_gives_up_and_a_person_may_ask_again(addressed: Ground, mail_server: MailServer) -> None:
    """After the last try it says so, with the reason."""
    row = add(addressed)
    mail_server.says = "451 try again later"
    for _ in range(len(TRIES) + 1):
        assert state(row)[0] == "waiting"
        notice_send(notice_id=row.pk, now=addressed.clock.now)
        addressed.clock.now += dt.timedelta(hours=2)
    assert state(row) == ("failed", len(TRIES) + 1)
    mail_server.says = "250 OK"
    notice_again(actor=addressed.cast.teacher, row=row, now=addressed.clock.now)
    assert notice_send(notice_id=row.pk, now=addressed.clock.now)
    with pytest.raises(ApplicationError) as told:
        notice_again(actor=addressed.cast.teacher, row=row, now=addressed.clock.now)
    assert told.value.code == "on_its_way"


def test_an_address_that_is_refused_is_not_tried_again(addressed: Ground, mail_server: MailServer) -> None:
    """RFC 5321 section 4.2.1: 5yz is for good."""
    mail_server.refuses.add("teacher@school.example")
    row = add(addressed)
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert state(row) == ("failed", 1)
    assert row.problem == "The mail server refused the address. Check it."


def test_a_server_that_is_not_there(addressed: Ground, mail_server: MailServer, settings: Any) -> None:
    """It waits for it."""
    row = add(addressed)
    settings.MAILERS["default"]["OPTIONS"]["port"] = 9
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    assert state(row) == ("waiting", 1)
    assert row.problem == ways.UNREACHED


def test_work_that_was_killed_while_sending_is_not_done_twice(addressed: Ground, mail_server: MailServer) -> None:
    """The row says that it was being sent: nobody sends it by themselves, and after a while the page says so."""
    row = add(addressed)
    Notice.objects.filter(pk=row.pk).update(state="sending", next_try=addressed.clock.now)
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    notices_ask_due(now=addressed.clock.now + dt.timedelta(minutes=5))
    assert state(row)[0] == "sending"
    notices_ask_due(now=addressed.clock.now + dt.timedelta(minutes=16))
    assert state(row)[0] == "uncertain"
    assert mail_server.mails == []
    notice_again(actor=addressed.cast.teacher, row=row, now=addressed.clock.now + dt.timedelta(minutes=17))
    assert notice_send(notice_id=row.pk, now=addressed.clock.now + dt.timedelta(minutes=17))


@pytest.mark.usefixtures("no_mail_server")
def test_without_a_server_it_is_kept_with_its_text(addressed: Ground) -> None:
    """And nobody is said to have been told."""
    row = add(addressed)
    assert (row.state, row.problem) == ("failed", NO_SERVER)
    assert not notice_send(notice_id=row.pk, now=addressed.clock.now)
    with pytest.raises(ApplicationError) as told:
        notice_again(actor=addressed.cast.teacher, row=row, now=addressed.clock.now)
    assert told.value.code == "no_mail_server"


def test_a_test_message_arrives(addressed: Ground, mail_server: MailServer) -> None:
    """To oneself; without an address it says what to do."""
    row = trial_send(actor=addressed.cast.office)
    assert notice_send(notice_id=row.pk)
    assert mail_server.to == ["office@school.example"]
    addressed.cast.mate.email = ""
    addressed.cast.mate.save()
    with pytest.raises(ApplicationError) as told:
        trial_send(actor=addressed.cast.mate)
    assert told.value.code == "no_address"


def test_without_an_address_nothing_is_said_to_be_sent(ground: Ground, mail_server: MailServer) -> None:
    """Django sends a mail to nobody without a word."""
    assert ground.cast.teacher.email == ""
    row = add(ground)
    assert (row.state, row.problem) == ("failed", outbox.NO_ADDRESS)
    assert not notice_send(notice_id=row.pk, now=ground.clock.now)
