"""How many requests a token has in a minute. Pure."""

import datetime as dt
from dataclasses import dataclass

ALLOWED, SECONDS = 300, 60
POLICY = f'"minute";q={ALLOWED};w={SECONDS}'
"""The header RateLimit-Policy (draft-ietf-httpapi-ratelimit-headers)."""


@dataclass(frozen=True, slots=True)
class Left:
    """What is left in the minute, and how many seconds until there is all of it again."""

    requests: int
    seconds: int

    @property
    def header(self) -> str:
        """The header RateLimit."""
        return f'"minute";r={max(0, self.requests)};t={self.seconds}'


def left_of(taken: int, began: dt.datetime, now: dt.datetime) -> Left:
    """What is left of a minute that began then; below zero there was none left."""
    over = int((now - began).total_seconds())
    return Left(ALLOWED - taken, min(SECONDS, max(1, SECONDS - over)))
