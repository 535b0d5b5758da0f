"""What the engines that ask a road server share: one pool, timeouts, retries, and errors in plain words."""

import json
from collections.abc import Iterable, Sequence
from typing import Any

import urllib3

from travel.roads.base import Point, RoadError

CONNECT_SECONDS = 2.0
READ_SECONDS = 20.0
# A server that is busy or just starting gets a second and a third chance, half a second and a second later.
RETRIES = 2
BACKOFF_FACTOR = 0.5
BUSY = (429, 502, 503, 504)

# Servers limit a table: 100 places (OSRM) or 2,500 pairs (Valhalla) by their own defaults. Blocks of 50 by 50 fit.
BLOCK = 50

REMEDY = "Check that the server runs and that ROAD_SERVICE_URL names it; until then drive times are estimated."


class RefusedError(RoadError):
    """The server answered, and its answer is no; `code` is the server's own."""

    def __init__(self, message: str, remedy: str, code: object = None) -> None:
        super().__init__(message, remedy)
        self.code = code


class Server:
    """A road server at a URL, such as ``http://roads.example.org:5000``."""

    def __init__(self, url: str, *, read_seconds: float = READ_SECONDS) -> None:
        self.url = url.rstrip("/")
        retries = urllib3.Retry(
            total=RETRIES,
            backoff_factor=BACKOFF_FACTOR,
            status_forcelist=BUSY,
            allowed_methods=["GET", "POST"],  # both only ask
            raise_on_status=False,
        )
        timeout = urllib3.Timeout(connect=CONNECT_SECONDS, read=read_seconds)
        self._pool = urllib3.PoolManager(retries=retries, timeout=timeout)

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
            response = self._pool.request(method, f"{self.url}{path}", **how)
        except urllib3.exceptions.HTTPError as error:
            raise RoadError(f"The road server at {self.url} does not answer ({_cause(error)}).", REMEDY) from error
        try:
            answer = json.loads(response.data)
        except ValueError as error:
            raise RoadError(
                f"The road server at {self.url} answered with something other than JSON (status "
                f"{response.status}).",
                REMEDY,
            ) from error
        if response.status != 200:
            told = answer if isinstance(answer, dict) else {}
            said = told.get("message") or told.get("error") or f"status {response.status}"
            code = told.get("error_code") or told.get("code")
            raise RefusedError(f"The road server at {self.url} refused: {said}.", REMEDY, code)
        return answer

    def nonsense(self, error: Exception) -> RoadError:
        """The error for an answer of another shape than the server's kind gives."""
        return RoadError(f"The road server at {self.url} gave an answer that can't be read ({error!r}).", REMEDY)


def blocks(points: Sequence[Point]) -> Iterable[tuple[range, range]]:
    """The table cut into pieces that a server takes, as ranges of rows and of columns."""
    starts = range(0, len(points), BLOCK)
    cut = [range(start, min(start + BLOCK, len(points))) for start in starts]
    return ((rows, columns) for rows in cut for columns in cut)


def _cause(error: urllib3.exceptions.HTTPError) -> str:
    reason = getattr(error, "reason", None) or error
    return type(reason).__name__.removesuffix("Error")
