"""How a message leaves for a phone or a computer: sealed, to the push service of its browser (RFC 8030)."""

import datetime as dt
import os
import time
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import urllib3
from cryptography.hazmat.primitives.asymmetric import ec
from django.conf import settings

from accounts.errors import ApplicationError
from schedule.calendar.published.reach import (
    Allowed,
    ReachError,
    address_to_reach,
    cut_off,
    host_header,
    pool_to,
)
from schedule.notices.models import Notice, PushDevice
from schedule.notices.push import P256, SALT_BYTES, authorization, payload, point_of, sealed, to_text
from schedule.notices.selectors.students import notice_text
from schedule.notices.services.push_key import push_key
from schedule.notices.services.ways import NotSentError

UNREACHED = "The device's push service could not be reached."
LOST = "The push service was reached and didn't answer. Whether the message arrived isn't known."
GONE = "The device no longer takes messages: they were turned off there, or it was set up anew."
TURNED_OFF = "Messages to this device were turned off."
OTHER_KEY = "The device was turned on with another key of this program. Turn it on again there."
LONGEST_SECONDS = 20.0
CONNECT_SECONDS = 5.0
SIGNED_FOR = dt.timedelta(hours=12)
"""At most 24 hours (RFC 8292 section 2)."""
SHORTEST = dt.timedelta(hours=1)
ENDED = frozenset({404, 410})
"""The subscription is no more (RFC 8030 section 7.3)."""
BUSY = 429


class DeviceGoneError(NotSentError):
    """The push service knows the device no more."""


def push_send(row: Notice, now: dt.datetime, allowed: Allowed) -> None:
    """Hand a message to the device's push service. Raises `NotSentError`. `allowed` judges each IP address."""
    device = row.device
    if device is None or device.ended_at is not None or device.person_id != row.person_id:
        # Turned off since, or turned on by somebody else who has the phone now.
        raise NotSentError(TURNED_OFF, final=True)
    try:
        key = push_key()
    except ApplicationError as error:
        raise NotSentError(error.message) from error
    if to_text(point_of(key)) != device.server_key:
        raise NotSentError(OTHER_KEY, final=True)
    headers = {
        **_terms(row, now),
        "Authorization": authorization(
            device.endpoint, key=key, contact=_contact(), expires=int((now + SIGNED_FOR).timestamp())
        ),
    }
    _judge(*_posted(device.endpoint, headers, _sealed(row, device, notice_text(row, now=now)), allowed))


def _sealed(row: Notice, device: PushDevice, text: str) -> bytes:
    plain = payload(title=row.subject, lines=text.splitlines(), path=row.path, tag=str(row.uid))
    return sealed(
        plain,
        receiver=device.receiver_key,
        secret=device.secret,
        key=ec.generate_private_key(P256),
        salt=os.urandom(SALT_BYTES),
    )


def _contact() -> str:
    """Whom a push service could ask about this program (RFC 8292 section 2.1)."""
    site = settings.SITE_ADDRESS.rstrip("/")
    return site if site.startswith("https://") else f"mailto:{settings.DEFAULT_FROM_EMAIL}"


def _terms(row: Notice, now: dt.datetime) -> dict[str, str]:
    """How long a message is worth keeping, how urgent it is and which one it replaces (RFC 8030 section 5).

    It is kept to the end of the day that it is about: a phone that is switched on the next morning shows nothing of
    yesterday. What is about today wakes the phone; tomorrow can wait until it wakes.
    """
    local = now.astimezone(ZoneInfo(row.district.time_zone))
    date = row.date or local.date()
    end = dt.datetime.combine(date + dt.timedelta(days=1), dt.time(), tzinfo=local.tzinfo)
    seconds = max(SHORTEST, end.astimezone(dt.UTC) - now).total_seconds()
    return {
        "TTL": str(int(seconds)),
        "Urgency": "high" if date <= local.date() else "normal",
        "Topic": to_text(row.uid.bytes),
        "Content-Encoding": "aes128gcm",
        "Content-Type": "application/octet-stream",
    }


def _posted(endpoint: str, headers: dict[str, str], body: bytes, allowed: Allowed) -> tuple[int, str]:
    """Status and Retry-After of the push service's answer. Raises `NotSentError`."""
    end = time.monotonic() + LONGEST_SECONDS
    parts = urlsplit(endpoint)
    try:
        pool = pool_to(parts, address_to_reach(parts, allowed, end), end, CONNECT_SECONDS)
    except ReachError as error:
        raise NotSentError(UNREACHED, final=error.why == "private") from error
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        with cut_off(pool, end):
            answer = pool.request(
                "POST", path, body=body, headers={"Host": host_header(parts), **headers}, redirect=False,
                preload_content=False,
            )  # fmt: skip
            answer.close()
    except (urllib3.exceptions.ConnectTimeoutError, urllib3.exceptions.SSLError) as error:
        # No connection, or hands weren't shaken: nothing was said.
        raise NotSentError(UNREACHED) from error
    except (urllib3.exceptions.HTTPError, OSError) as error:
        raise NotSentError(LOST, final=True, unsure=True) from error
    finally:
        pool.close()
    return answer.status, answer.headers.get("Retry-After", "")


def _judge(status: int, after: str) -> None:
    """What an answer means (RFC 8030 sections 5, 7 and 8.4; RFC 9110 section 10.2.3)."""
    if 200 <= status < 300:
        return
    if status in ENDED:
        raise DeviceGoneError(GONE, final=True)
    told = f"The push service refused the message (status {status})."
    wait = dt.timedelta(seconds=min(int(after), 86_400)) if after.isdecimal() else dt.timedelta()
    raise NotSentError(told, final=status != BUSY and status < 500, wait=wait)
