"""How many requests a token has in a minute. Pure.

Counted by each web process on its own: with several of them a program may have that many times as much.
"""

import threading
from collections.abc import Callable
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


class Counter:
    """Counts by key in windows of a minute; `now` in seconds."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._window = -1
        self._counts: dict[int, int] = {}

    def take(self, key: int) -> Left:
        """Take one; below zero there was none left."""
        now = self._now()
        window, seconds = int(now // SECONDS), SECONDS - int(now % SECONDS)
        with self._lock:
            if window != self._window:
                self._window, self._counts = window, {}
            count = self._counts[key] = self._counts.get(key, 0) + 1
        return Left(ALLOWED - count, seconds)
