"""How a message leaves by mail, and what is said when it doesn't leave."""

import datetime as dt
from dataclasses import dataclass
from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException

from django.conf import settings
from django.core.mail import EmailMessage

from schedule.notices.models import Notice
from schedule.notices.selectors.students import notice_text

UNREACHED = "The mail server could not be reached."


@dataclass
class NotSentError(Exception):
    """A message didn't leave. `final`: it won't either; `unsure`: it may have; `wait`: not before so long."""

    problem: str
    final: bool = False
    unsure: bool = False
    wait: dt.timedelta = dt.timedelta()


def mail_send(row: Notice, now: dt.datetime) -> None:
    """Hand a message to the mail server. Raises `NotSentError`."""
    # The same identifier however often it is sent (RFC 5322 section 3.6.4): mail programs show it once.
    headers = {"Message-ID": f"<{row.uid}@minutes-and-miles>", "Auto-Submitted": "auto-generated"}
    mail = EmailMessage(
        row.subject, notice_text(row, now=now), settings.DEFAULT_FROM_EMAIL, [row.address], headers=headers
    )
    try:
        mail.send()
    except (OSError, SMTPException) as error:
        raise NotSentError(_mail_words(error), final=_is_final(error)) from error


def _is_final(error: Exception) -> bool:
    """Whether the server said never: replies of 500 and more (RFC 5321 section 4.2.1)."""
    if isinstance(error, SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, SMTPResponseException) and error.smtp_code >= 500


def _mail_words(error: Exception) -> str:
    if isinstance(error, SMTPRecipientsRefused):
        return "The mail server refused the address. Check it."
    if isinstance(error, SMTPResponseException):
        return f"The mail server refused the message (status {error.smtp_code})."
    return UNREACHED
