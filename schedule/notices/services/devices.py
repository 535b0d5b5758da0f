"""Phones and computers on which people have messages shown: turned on there, renamed, tried, turned off."""

import ipaddress
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, audit_write, permission_require, record_change
from schedule.calendar.published.reach import is_public
from schedule.notices.models import Notice, PushDevice
from schedule.notices.push import SECRET_BYTES, point_read, to_bytes
from schedule.notices.selectors.hearers import Hearer
from schedule.notices.services.outbox import notice_add
from schedule.notices.services.push_key import push_key_text
from schedule.notices.services.settings import HEAR
from schedule.notices.wording import trial_message

MOST_DEVICES = 10
ENDPOINT = "The browser gave an address that no push service on the internet has."
KEYS = "The browser gave keys that aren't those of a push service."


def device_add(
    *, actor: Person, label: str, endpoint: str, receiver_key: str, secret: str, server_key: str
) -> PushDevice:
    """Turn messages on, on the device that sends what its browser's push service gave it.

    A device belongs to who turned it on last: somebody else's messages no longer come to it. Raises
    `ValidationError` by field, or `ApplicationError` (409) for one key too old or one device too many.
    """
    permission_require(actor, HEAR)
    if actor.district is None:
        raise ApplicationError("Only a district's people are told.", code="not_for_your_role", status=403)
    _checked({"endpoint": (endpoint, _endpoint_check), "receiver_key": (receiver_key, _point_check),
              "secret": (secret, _secret_check)})  # fmt: skip
    if server_key != push_key_text():
        raise ApplicationError("The page is out of date. Load it again.", code="old_key", status=409)
    with transaction.atomic():
        row = PushDevice.objects.filter(endpoint=endpoint).first() or PushDevice(endpoint=endpoint)
        others = PushDevice.objects.filter(person=actor, ended_at=None).exclude(pk=row.pk)
        if others.count() >= MOST_DEVICES:
            raise ApplicationError(f"{MOST_DEVICES} devices are the limit. Turn one off first.", code="too_many")
        row.person, row.district, row.label = actor, actor.district, label
        row.receiver_key, row.secret, row.server_key = receiver_key, secret, server_key
        row.made_at, row.ended_at, row.is_gone, row.problem = timezone.now(), None, False, ""
        row.full_clean()
        row.save()
        audit_write(actor=actor, district=row.district, action="device_add", row=row)
    return row


def _checked(values: Mapping[str, tuple[str, Callable[[str], None]]]) -> None:
    """Raise `ValidationError` with every field that doesn't hold what a browser gives."""
    wrong: dict[str, str] = {}
    for name, (text, check) in values.items():
        try:
            check(text)
        except ValueError:
            wrong[name] = ENDPOINT if name == "endpoint" else KEYS
    if wrong:
        raise ValidationError(wrong)


def _endpoint_check(text: str) -> None:
    """An https address without a password, and no number of a private network; names are looked up when it is used.

    Raises `ValueError`.
    """
    parts = urlsplit(text)
    host = parts.hostname or ""
    if parts.scheme != "https" or not host or parts.username or parts.password or parts.port == 0:
        raise ValueError(text)
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return
    if not is_public(str(address)):
        raise ValueError(text)


def _point_check(text: str) -> None:
    point_read(text)


def _secret_check(text: str) -> None:
    if len(to_bytes(text)) != SECRET_BYTES:
        raise ValueError(text)


def device_rename(*, actor: Person, row: PushDevice, values: Mapping[str, Any]) -> PushDevice:
    """Call it otherwise."""
    return record_change(actor=actor, row=row, values=dict(values), action="device_rename", permission=HEAR)


def device_stop(*, actor: Person, row: PushDevice) -> PushDevice:
    """Turn messages off on a device; what waits for it isn't sent anymore. Twice does nothing."""
    return _turned(actor, row, on=False)


def device_resume(*, actor: Person, row: PushDevice) -> PushDevice:
    """Turn them on again, as long as its push service knows the device. Raises `ApplicationError` (409, `gone`)."""
    return _turned(actor, row, on=True)


def _turned(actor: Person, row: PushDevice, *, on: bool) -> PushDevice:
    permission_require(actor, HEAR)
    with transaction.atomic():
        kept = PushDevice.objects.select_for_update().get(pk=row.pk, person=actor)
        if on and kept.is_gone:
            raise ApplicationError("Open this page on the device and turn it on there.", code="gone", status=409)
        if on == (kept.ended_at is None):
            return kept
        kept.ended_at, kept.problem = None if on else timezone.now(), ""
        kept.save()
        audit_write(actor=actor, district=kept.district, action="device_resume" if on else "device_stop", row=kept)
    return kept


def _own_require(actor: Person, row: PushDevice) -> None:
    permission_require(actor, HEAR)
    if row.person_id != actor.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def device_delete(*, actor: Person, row: PushDevice) -> None:
    """Forget a device that is turned off, with its keys. Raises `ApplicationError` (409) for one that is on."""
    _own_require(actor, row)
    if row.ended_at is None:
        raise ApplicationError("Turn it off first.", code="is_on", status=409)
    with transaction.atomic():
        audit_write(actor=actor, district=row.district, action="device_delete", row=row)
        row.delete()


def device_try(*, actor: Person, row: PushDevice) -> Notice:
    """Send the device a message that says that it works. Raises `ApplicationError` (409) where it is turned off."""
    _own_require(actor, row)
    if row.ended_at is not None:
        raise ApplicationError("Messages to this device are turned off.", code="no_device", status=409)
    now = timezone.now()
    with transaction.atomic():
        made = notice_add(
            key=f"trial:p{actor.pk}:{now.timestamp():.6f}",
            hearer=Hearer(person=actor),
            message=trial_message(str(actor)),
            district=actor.district,
            now=now,
            device=row,
            path="/",
        )
    if made is None:
        raise ApplicationError("One was asked for at this very moment.", code="on_its_way", status=409)
    return made
