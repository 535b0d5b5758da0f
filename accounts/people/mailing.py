"""Mails about signing in: a link by which somebody chooses a password that nobody else knows."""

from smtplib import SMTPException

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from accounts.models import Person

NOT_SENT = "The mail server didn't take the mail. Whoever runs this site finds the reason in its log."
SUBJECT = "Choose your password for Minutes & Miles"
HOURS = settings.PASSWORD_RESET_TIMEOUT // 3600


class LinkNotSentError(Exception):
    """The mail with a link didn't leave."""


def mail_is_set_up() -> bool:
    """Whether mail leaves this machine."""
    return not settings.MAILERS["default"]["BACKEND"].endswith("console.EmailBackend")


def password_link(person: Person, site: str) -> str:
    """The address of the page at which this person chooses a password. It works once, for `HOURS` hours.

    It is signed over the present password and the last sign-in: choosing one, or signing in, ends it.
    """
    parts = [urlsafe_base64_encode(force_bytes(person.pk)), default_token_generator.make_token(person)]
    return site.rstrip("/") + reverse("password_link", args=parts)


def password_link_mail(person: Person, site: str) -> None:
    """Send the link to the person's own address. Raises `LinkNotSentError`."""
    told = {"person": person, "link": password_link(person, site), "hours": HOURS}
    text = render_to_string("accounts/mail/password_link.txt", told)
    headers = {"Auto-Submitted": "auto-generated"}
    mail = EmailMessage(SUBJECT, text, settings.DEFAULT_FROM_EMAIL, [person.email], headers=headers)
    try:
        mail.send()
    except (OSError, SMTPException) as error:
        raise LinkNotSentError(NOT_SENT) from error
