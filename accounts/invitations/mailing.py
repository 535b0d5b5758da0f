"""The mail of an invitation, and the address that stands in it or on a slip."""

from smtplib import SMTPException
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from accounts.models import Invitation, Person
from accounts.people.mailing import NOT_SENT, LinkNotSentError

SUBJECT = "Your invitation to Minutes & Miles"


def invitation_link(person: Person, secret: str, site: str) -> str:
    """The address at which this person chooses a first password."""
    parts = [urlsafe_base64_encode(force_bytes(person.pk)), secret]
    return site.rstrip("/") + reverse("invitation_open", args=parts)


def invitation_mail(row: Invitation, link: str) -> None:
    """Send it to the person's own address. Raises `LinkNotSentError`."""
    told = {"person": row.person, "district": row.district, "link": link, "ends": row.ends_at}
    with timezone.override(ZoneInfo(row.district.time_zone)):
        text = render_to_string("accounts/mail/invitation.txt", told)
    headers = {"Auto-Submitted": "auto-generated"}
    mail = EmailMessage(SUBJECT, text, settings.DEFAULT_FROM_EMAIL, [row.person.email], headers=headers)
    try:
        mail.send()
    except (OSError, SMTPException) as error:
        raise LinkNotSentError(NOT_SENT) from error
