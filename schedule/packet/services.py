"""Writes of links to packets, and of every time that one is opened."""

import datetime as dt
import secrets
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, NOT_YOUR_ROLE, audit_write, permission_require, record_save
from schedule.packet.models import PacketLink, PacketView
from schedule.packet.selectors import MOST_DAYS, secret_hash
from schedule.weeks.selectors.pages import teachers_for

PERMISSION = "week.change"
SECRET_BYTES = 32
PAST = "These days are past. Choose days from today on."
OVER = "The last day of this link is over. Arrange somebody for the days to come."
TOO_LONG = f"A packet holds {MOST_DAYS} days at most. Make another one for the days after."


def packet_link_make(
    *,
    actor: Person,
    teacher: Person,
    first: dt.date,
    last: dt.date,
    label: str,
    now: dt.datetime,
    person: Person | None = None,
) -> tuple[PacketLink, str]:
    """A link to the packet of a teacher's days, and its secret, which can't be read again.

    With a `person` somebody stands in by it (`accounts.people.services.link_person_make`). It ends with the last
    day, where the district is. Raises `ValidationError` by field, or `ApplicationError` (403
    for the role, 404 for a teacher out of sight).
    """
    permission_require(actor, PERMISSION)
    if actor.district is None:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    if not teachers_for(actor).filter(pk=teacher.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    zone = ZoneInfo(actor.district.time_zone)
    _days_require(first, last, now.astimezone(zone).date())
    secret = secrets.token_urlsafe(SECRET_BYTES)
    values = {
        "teacher": teacher,
        "made_by": actor,
        "made_at": now,
        "first_date": first,
        "last_date": last,
        "label": label,
        "person": person,
        "ends_at": dt.datetime.combine(last + dt.timedelta(days=1), dt.time(), tzinfo=zone),
    }
    row = PacketLink(district=actor.district, secret_hash=secret_hash(secret))
    return record_save(actor=actor, row=row, values=values, action="packet_link_make"), secret


def _days_require(first: dt.date, last: dt.date, today: dt.date) -> None:
    if last < today:
        raise ValidationError({"last_date": PAST})
    if last < first:
        raise ValidationError({"last_date": "The last day is before the first."})
    if (last - first).days >= MOST_DAYS:
        raise ValidationError({"last_date": TOO_LONG})


def packet_link_stop(*, actor: Person, link: PacketLink, now: dt.datetime) -> None:
    """End a link at once. Stopping twice does nothing."""
    permission_require(actor, PERMISSION)
    if not PacketLink.objects.changeable_by(actor).filter(pk=link.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        if PacketLink.objects.filter(pk=link.pk, stopped_at=None).update(stopped_at=now):
            audit_write(actor=actor, district=link.district, action="packet_link_stop", row=link)


def packet_link_renew(*, actor: Person, link: PacketLink, now: dt.datetime) -> str:
    """Another address for a link by which somebody stands in; what was opened with the one before ends at once.

    Raises `ApplicationError` (403, 404), and ``link_over`` past its last day.
    """
    permission_require(actor, PERMISSION)
    if not PacketLink.objects.changeable_by(actor).filter(pk=link.pk).exclude(person=None).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if link.person is None or now >= link.ends_at:
        raise ApplicationError(OVER, code="link_over")
    secret = secrets.token_urlsafe(SECRET_BYTES)
    with transaction.atomic():
        PacketLink.objects.filter(pk=link.pk).update(secret_hash=secret_hash(secret), stopped_at=None)
        # A session rests on the password, also where there is none: another one ends those that are open.
        link.person.set_unusable_password()
        link.person.save(update_fields=["password"])
        audit_write(actor=actor, district=link.district, action="packet_link_renew", row=link)
    return secret


def packet_view_record(*, link: PacketLink, browser: str, now: dt.datetime) -> None:
    """Note that a packet was opened by its link."""
    PacketView.objects.create(link=link, seen_at=now, browser=browser.replace("\x00", "")[:200])
