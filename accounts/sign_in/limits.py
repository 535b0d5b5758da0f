"""How many wrong tries are taken before signing in is refused for a while, and whose tries count together. Pure.

Three limits hold at once. By name and address together: somebody who mistypes waits a little, and the school behind
the same address doesn't. By name alone: many addresses don't guess one password for ever. By address alone: one
address doesn't try name after name. A browser in which somebody has signed in before counts by itself, so that
tries from elsewhere don't shut that person out (OWASP, "Slow Down Online Guessing Attacks with Device Cookies").
NIST SP 800-63B, 3.2.2, allows at most 100 wrong tries in a row for one account: that is held over a month. The
other figures are our own choice.
"""

import datetime as dt
import ipaddress
import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limit:
    """So many wrong tries within so long; then nothing is taken until the oldest of them is that old."""

    tries: int
    within: dt.timedelta

    def until(self, failed: Sequence[dt.datetime]) -> dt.datetime | None:
        """Until when it is refused, by the moments of wrong tries in that time, the latest first; None for not."""
        return failed[self.tries - 1] + self.within if len(failed) >= self.tries else None


TOGETHER = Limit(5, dt.timedelta(minutes=15))
BY_NAME = Limit(20, dt.timedelta(days=1))
BY_NAME_LONG = Limit(100, dt.timedelta(days=30))
BY_ADDRESS = Limit(100, dt.timedelta(days=1))
LONGEST = max(one.within for one in (TOGETHER, BY_NAME, BY_NAME_LONG, BY_ADDRESS))
IPV6_NETWORK = 64
"""Bits of an IPv6 address that name a network (RFC 4291, 2.5.4): one household or school has all that follow."""


def counted_as(address: str) -> str | None:
    """The address that tries count under: an IPv6 network as one; None for what is no address."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return None
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network(f"{found}/{IPV6_NETWORK}", strict=False).network_address)
    return str(found)


def wait_words(until: dt.datetime, now: dt.datetime) -> str:
    """How long is left, rounded up, such as “12 minutes” or “5 hours”."""
    minutes = max(1, math.ceil((until - now).total_seconds() / 60))
    if minutes <= 90:
        return "1 minute" if minutes == 1 else f"{minutes} minutes"
    hours = math.ceil(minutes / 60)
    return f"{hours} hours" if hours <= 48 else f"{math.ceil(hours / 24)} days"
