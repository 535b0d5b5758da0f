"""What the engines that ask a road server share: one pool, one deadline, retries, and errors in plain words.

A server may be down, hang, send a byte at a time, or answer what it wants: whoever asks waits so many seconds for
all of a table and no more. What such a server still sends is read by a thread that nobody waits for.
"""

import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from threading import Event, Thread
from typing import Any

import urllib3

from travel.roads.base import Point, RoadError

CONNECT_SECONDS = 2.0
ANSWER_SECONDS = 6.0
"""For a whole table, with its retries. The docs name it."""
# A server that is busy or just starting gets a second and a third chance, half a second and a second later.
RETRIES = 2
BACKOFF_FACTOR = 0.5
BUSY = (429, 502, 503, 504)
MOST_BYTES = 16_000_000
"""A piece of 50 by 50 has about 100 kB."""

# Servers limit a table: 100 places (OSRM) or 2,500 pairs (Valhalla) by their own defaults. Blocks of 50 by 50 fit.
BLOCK = 50

REMEDY = "Check that the server runs and that ROAD_SERVICE_URL names it; until then drive times are estimated."
NONSENSE = (LookupError, TypeError, ValueError, OverflowError)
"""What reading an answer of another shape raises, or one with numbers beyond all bounds."""


class RefusedError(RoadError):
    """The server answered, and its answer is no; `code` is the server's own."""

    def __init__(self, message: str, remedy: str, code: object = None) -> None:
        super().__init__(message, remedy)
        self.code = code


class Server:
    """A road server at a URL, such as ``http://roads.example.org:5000``, and the seconds that a table may take."""

    def __init__(self, url: str, *, seconds: float = ANSWER_SECONDS) -> None:
        self.url = url.rstrip("/")
        self.seconds = seconds
        retries = urllib3.Retry(
            total=RETRIES,
            backoff_factor=BACKOFF_FACTOR,
            status_forcelist=BUSY,
            allowed_methods=["GET", "POST"],  # both only ask
            respect_retry_after_header=False,  # a server doesn't say how long a page waits
            raise_on_status=False,
        )
        timeout = urllib3.Timeout(connect=min(CONNECT_SECONDS, seconds), read=seconds)
        self._pool = urllib3.PoolManager(retries=retries, timeout=timeout)
        self._given_up = Event()
        self._given_up.set()

    def within[Answer](self, ask: Callable[[], Answer]) -> Answer:
        """What `ask` finds within the server's seconds, whatever it does meanwhile; raises `RoadError`.

        While the thread of a question that was given up still reads, no further one is begun.
        """
        if not self._given_up.is_set():
            raise RoadError(f"The road server at {self.url} is still at a question that took too long.", REMEDY)
        question = _Question(ask)
        question.start()
        if not question.over.wait(self.seconds):
            self._given_up = question.over
            raise RoadError(f"The road server at {self.url} took longer than {self.seconds:g} seconds.", REMEDY)
        return question.answer()

    def get(self, path: str, **fields: str) -> dict[str, Any]:
        """The server's answer to a GET; raises `RoadError`."""
        answer = self._asked("GET", path, fields=fields)
        if not isinstance(answer, dict):
            raise self.nonsense(TypeError(type(answer).__name__))
        return answer

    def post(self, path: str, body: object) -> Any:
        """The server's answer to a POST of JSON; raises `RoadError`."""
        return self._asked("POST", path, json=body)

    def _asked(self, method: str, path: str, **how: Any) -> Any:
        try:
            response = self._pool.request(method, f"{self.url}{path}", preload_content=False, **how)
            with closing(response):
                body = response.read(MOST_BYTES, decode_content=False)
        except urllib3.exceptions.HTTPError as error:
            raise RoadError(f"The road server at {self.url} does not answer ({_cause(error)}).", REMEDY) from error
        try:
            answer = json.loads(body)
        except (ValueError, RecursionError) as error:
            raise RoadError(
                f"The road server at {self.url} answered with something other than JSON (status "
                f"{response.status}).",
                REMEDY,
            ) from error
        if response.status != 200:
            told = answer if isinstance(answer, dict) else {}
            said = told.get("message") or told.get("error") or f"status {response.status}"
            code = told.get("error_code") or told.get("code")
            raise RefusedError(f"The road server at {self.url} refused: {str(said)[:200]}.", REMEDY, code)
        return answer

    def nonsense(self, error: Exception) -> RoadError:
        """The error for an answer of another shape than the server's kind gives."""
        return RoadError(
            f"The road server at {self.url} gave an answer that can't be read ({str(error)[:100]}).", REMEDY
        )


class _Question[Answer](Thread):
    """A question on its way: a thread that ends by itself, and may be left alone."""

    def __init__(self, ask: Callable[[], Answer]) -> None:
        super().__init__(name="question to a road server", daemon=True)
        self._ask = ask
        self._found: list[Answer] = []
        self._failed: Exception | None = None
        self.over = Event()

    def run(self) -> None:
        """Ask, and keep what comes of it."""
        try:
            self._found.append(self._ask())
        except Exception as error:
            # Whatever it is: whoever waits raises it again.
            self._failed = error
        finally:
            self.over.set()

    def answer(self) -> Answer:
        """What was found; raises what the asking raised."""
        if self._failed is not None:
            raise self._failed
        return self._found[0]


def blocks(points: Sequence[Point]) -> Iterable[tuple[range, range]]:
    """The table cut into pieces that a server takes, as ranges of rows and of columns."""
    starts = range(0, len(points), BLOCK)
    cut = [range(start, min(start + BLOCK, len(points))) for start in starts]
    return ((rows, columns) for rows in cut for columns in cut)


def _cause(error: urllib3.exceptions.HTTPError) -> str:
    reason = getattr(error, "reason", None) or error
    return type(reason).__name__.removesuffix("Error")
