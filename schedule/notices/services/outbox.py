"""Messages on their way: written once, sent by a job, tried again by the clock, and what became of them kept."""

import datetime as dt
import logging
from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import audit_write
from jobs.services import job_add
from schedule.notices.models import Notice
from schedule.notices.selectors.hearers import Hearer
from schedule.notices.wording import Message

logger = logging.getLogger(__name__)

KIND = "send_notice"
TRIES = (dt.timedelta(minutes=1), dt.timedelta(minutes=5), dt.timedelta(minutes=20), dt.timedelta(hours=1))
"""How long after each failed try the next one is made; after the last there is none."""
LOST_AFTER = dt.timedelta(minutes=15)
"""A message that is being sent for longer was in the hands of a worker that is no more."""
NO_SERVER = "No mail server is set up, so nobody was told. Copy the text and send it yourself."
NO_ADDRESS = "No address is known."
UNREACHED = "The mail server could not be reached."
LOST = "The program stopped while it was being sent. Whether it arrived isn't known."
State = Notice.State


def mail_is_set_up() -> bool:
    """Whether mail leaves this machine."""
    return not settings.MAILERS["default"]["BACKEND"].endswith("console.EmailBackend")


def notice_add(
    *, key: str, hearer: Hearer, message: Message, district: District | None, now: dt.datetime,
    teacher: Person | None = None, date: dt.date | None = None, link: str = "",
) -> Notice | None:  # fmt: skip
    """Write a message, in the transaction of what it tells; None if this was told before.

    Without a mail server it is kept as failed, with its text, so that a person can send it.
    """
    row = Notice(
        key=key,
        district=district,
        teacher=teacher,
        date=date,
        person=hearer.person,
        contact=hearer.contact,
        channel=Notice.Channel.MAIL,
        address=hearer.mail_to,
        subject=message.subject[:200],
        body="\n".join([*message.lines, *_link(link)]),
        next_try=now,
        made_at=now,
    )
    problem = _hindrance(row)
    if problem:
        row.state, row.problem, row.ended_at = State.FAILED, problem, now
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        return None
    if row.state == State.WAITING:
        _ask(row.pk)
    return row


def _hindrance(row: Notice) -> str:
    """Why it can't even be tried; empty where it can."""
    if not row.address:
        return NO_ADDRESS
    return "" if mail_is_set_up() else NO_SERVER


def _link(path: str) -> list[str]:
    """Where to look, where the site's address is known; it names a date and no student."""
    return ["", f"{settings.SITE_ADDRESS.rstrip('/')}{path}"] if path and settings.SITE_ADDRESS else []


def _ask(pk: int) -> None:
    job_add(kind=KIND, payload={"notice": pk}, unique_key=f"{KIND}:{pk}")


def notices_ask_due(*, now: dt.datetime | None = None) -> None:
    """Have those sent whose time has come, and say of those lost on the way that nobody knows."""
    moment = now or timezone.now()
    lost = Notice.objects.filter(state=State.SENDING, next_try__lt=moment - LOST_AFTER)
    lost.update(state=State.UNCERTAIN, problem=LOST, ended_at=moment)
    for pk in Notice.objects.due_at(moment).order_by("next_try").values_list("pk", flat=True)[:500]:
        with transaction.atomic():
            _ask(pk)


def notice_send(*, notice_id: int, now: dt.datetime | None = None) -> bool:
    """Send one message, if it waits; returns whether it left.

    That it is being sent is committed before a byte leaves: a worker killed in between sends nothing twice.
    """
    moment = now or timezone.now()
    waiting = Notice.objects.filter(pk=notice_id, state=State.WAITING)
    # The condition again in the update: of two workers one sends.
    if waiting.update(state=State.SENDING, next_try=moment) != 1:
        return False
    row = Notice.objects.get(pk=notice_id)
    try:
        _mail(row)
    except (OSError, SMTPException) as error:
        _failed(row, error, moment)
        return False
    Notice.objects.filter(pk=row.pk).update(state=State.SENT, problem="", tries=row.tries + 1, ended_at=moment)
    return True


def _mail(row: Notice) -> None:
    # The same identifier however often it is sent (RFC 5322 section 3.6.4): mail programs show it once.
    headers = {"Message-ID": f"<{row.uid}@minutes-and-miles>", "Auto-Submitted": "auto-generated"}
    EmailMessage(row.subject, row.body, settings.DEFAULT_FROM_EMAIL, [row.address], headers=headers).send()


def _failed(row: Notice, error: Exception, moment: dt.datetime) -> None:
    """Why it didn't leave, and when it is tried again: not where the server refused the address for good."""
    tries, told = row.tries + 1, _why(error)
    again = None if _is_final(error) or tries > len(TRIES) else moment + TRIES[tries - 1]
    logger.warning("Notice %s was not sent: %s", row.pk, type(error).__name__)
    values = {"tries": tries, "problem": told[:300], "next_try": again or moment}
    state = State.WAITING if again is not None else State.FAILED
    Notice.objects.filter(pk=row.pk).update(state=state, ended_at=None if again is not None else moment, **values)


def _is_final(error: Exception) -> bool:
    """Whether the server said never: replies of 500 and more (RFC 5321 section 4.2.1)."""
    if isinstance(error, SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, SMTPResponseException) and error.smtp_code >= 500


def _why(error: Exception) -> str:
    if isinstance(error, SMTPRecipientsRefused):
        return "The mail server refused the address. Check it."
    if isinstance(error, SMTPResponseException):
        return f"The mail server refused the message (status {error.smtp_code})."
    return UNREACHED


def notice_again(*, actor: Person, row: Notice, now: dt.datetime | None = None) -> Notice:
    """Send a message again that failed or perhaps didn't arrive, because a person wants it.

    Raises `ApplicationError` (409, `on_its_way`) for one that is on its way or was sent.
    """
    moment = now or timezone.now()
    with transaction.atomic():
        kept = Notice.objects.select_for_update().get(pk=row.pk)
        if kept.state not in {State.FAILED, State.UNCERTAIN}:
            raise ApplicationError("This message is on its way or was sent.", code="on_its_way", status=409)
        if problem := _hindrance(kept):
            raise ApplicationError(problem, code="no_mail_server" if kept.address else "no_address", status=409)
        kept.state, kept.next_try, kept.ended_at, kept.problem = State.WAITING, moment, None, ""
        kept.save()
        audit_write(actor=actor, district=kept.district, action="notice_again", row=kept)
        _ask(kept.pk)
    return kept
