"""Road servers on loopback, asked over HTTP: real ones, killed in the middle and started again."""

import json
import socket
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from threading import Event, Thread

import pytest

from tests.answering_server import server_that
from tests.roads import Server as RoadServer
from tests.roads import street_points
from travel.roads.base import Point, RoadError
from travel.roads.http_base import Server
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.osrm_http import OsrmServer
from travel.roads.valhalla_http import ValhallaServer

FAR_AWAY = Point(61.0, 25.5)


def test_the_server_says_what_the_engine_in_the_process_says(
    osrm_server: RoadServer, helsinki_engine: OsrmEngine
) -> None:
    """More buildings than one call of a server takes by its own default (100)."""
    points = [*street_points(helsinki_engine, 120, seed=5), FAR_AWAY]
    osrm_server.start()
    asked = OsrmServer(Server(osrm_server.url)).answer(points)
    inside = helsinki_engine.answer(points)
    assert asked.legs.keys() == inside.legs.keys()
    # Coordinates go over the wire with six decimals, a tenth of a meter.
    assert max(abs(leg.wheel_minutes - inside.legs[pair].wheel_minutes) for pair, leg in asked.legs.items()) < 0.02
    assert [far.index for far in asked.far] == [120]


def test_killed_in_the_middle_it_says_so_and_answers_once_it_runs_again(
    osrm_server: RoadServer, helsinki_engine: OsrmEngine
) -> None:
    points = street_points(helsinki_engine, 5, seed=6)
    asked = OsrmServer(Server(osrm_server.url))
    osrm_server.start()
    before = asked.answer(points)
    osrm_server.kill()
    with pytest.raises(RoadError, match=r"does not answer \(\w+\)\. Check that the server runs"):
        asked.answer(points)
    osrm_server.start()
    assert asked.answer(points) == before


def test_the_other_kind_of_server(valhalla_server: RoadServer, helsinki_engine: OsrmEngine) -> None:
    points = [*street_points(helsinki_engine, 8, seed=8), FAR_AWAY]
    valhalla_server.start()
    answer = ValhallaServer(Server(valhalla_server.url)).answer(points)
    assert 8 not in {index for pair in answer.legs for index in pair}
    assert [far.index for far in answer.far] == [8]
    assert all(0 < leg.wheel_minutes < 20 for leg in answer.legs.values())
    assert len(answer.legs) > 0.8 * 8 * 7


HANGING: list[bytes] = []
DRIPPING_HEADERS = [b"HTTP/1.1 200 OK\r\n", *[b"X-More: yes\r\n"] * 50]
DRIPPING_BODY = [b"HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n", *[b" "] * 50]
"""Each piece is sent a little after the one before, so that no single wait is ever long."""
DRIP_SECONDS = 0.05
GIVEN = 0.4
"""Seconds that the servers of these tests have for a table."""


@contextmanager
def dripping(pieces: Sequence[bytes]) -> Iterator[str]:
    """A server that sends these pieces slowly and then hangs; its URL."""
    over = Event()

    def serve(listener: socket.socket) -> None:
        with suppress(OSError):
            while True:
                client, _ = listener.accept()
                with client, suppress(OSError):
                    for piece in pieces:
                        client.sendall(piece)
                        over.wait(DRIP_SECONDS)
                    over.wait(10)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        Thread(target=serve, args=(listener,), daemon=True).start()
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        over.set()


@pytest.mark.parametrize("kind", [OsrmServer, ValhallaServer])
@pytest.mark.parametrize("pieces", [HANGING, DRIPPING_HEADERS, DRIPPING_BODY])
def test_one_deadline_however_a_server_hangs_or_drips(
    pieces: list[bytes], kind: Callable[[Server], OsrmServer]
) -> None:
    with dripping(pieces) as url:
        server = kind(Server(url, seconds=GIVEN))
        began = time.monotonic()
        with pytest.raises(RoadError, match=r"took longer than 0\.4 seconds|does not answer"):
            server.answer([Point(60, 25), Point(60.01, 25)])
        # Two seconds more for a busy machine; the drips alone would take 2.5 s, and hanging 10.
        assert time.monotonic() - began < GIVEN + 2
        with pytest.raises(RoadError, match=r"still at a question|took longer|does not answer"):
            server.answer([Point(60, 25), Point(60.01, 25)])
        assert time.monotonic() - began < 2 * (GIVEN + 2)


def test_many_pieces_have_one_deadline_together() -> None:
    """Nine pieces of 120 places, each a little late."""

    def late(_path: str, _body: bytes) -> tuple[int, bytes]:
        time.sleep(0.2)
        return 200, b'{"durations": [], "distances": [], "sources": []}'

    points = [Point(60 + n / 1000, 25) for n in range(120)]
    with server_that(late) as url, pytest.raises(RoadError, match="gave an answer that can't be read"):
        OsrmServer(Server(url, seconds=1)).answer(points)

    def whole(_path: str, body: bytes) -> tuple[int, bytes]:
        time.sleep(0.3)
        asked = json.loads(body)
        row = [
            [{"edges": [{"correlated_lat": one["lat"], "correlated_lon": one["lon"]}]}]
            for one in asked["locations"]
        ]
        return 200, json.dumps([place[0] for place in row]).encode()

    with server_that(whole) as url, pytest.raises(RoadError, match=r"took longer than 0\.2 seconds"):
        ValhallaServer(Server(url, seconds=0.2)).answer(points)


ALL = [[0.0, 60.0], [60.0, 0.0]]
"""A minute for the 1.1 km between the two places below."""


@pytest.mark.parametrize(
    ("durations", "distances", "refused"),
    [
        (ALL, [[0, 1500], [1500, 0]], set()),
        pytest.param([[0, 1], [60, 0]], [[0, 1500], [1500, 0]], {(0, 1)}, id="quicker than any car"),
        pytest.param([[0, -60], [60, 0]], [[0, 1500], [1500, 0]], {(0, 1)}, id="before it left"),
        pytest.param([[0, 60], [86400, 0]], [[0, 1500], [1500, 0]], {(1, 0)}, id="a day for a mile"),
        pytest.param(ALL, [[0, 100], [1500, 0]], {(0, 1)}, id="shorter than the straight line"),
        pytest.param([[0, 4e6], [60, 0]], [[0, 5e7], [1500, 0]], {(0, 1)}, id="around the world"),
        pytest.param([[0, float("inf")], [60, 0]], [[0, 1500], [1500, 0]], {(0, 1)}, id="never"),
    ],
)
def test_numbers_that_no_drive_can_have_are_refused(
    durations: list[list[float]], distances: list[list[float]], refused: set[tuple[int, int]]
) -> None:
    """0.01 degrees of latitude are 1.1 km (111 km a degree)."""
    told = {"durations": durations, "distances": distances, "sources": [{"distance": 3.0}] * 2}
    with server_that(lambda _path, _body: (200, json.dumps(told).encode())) as url:
        answer = OsrmServer(Server(url)).answer([Point(60, 25), Point(60.01, 25)])
    assert set(answer.refused) == refused
    assert set(answer.legs) == {(0, 1), (1, 0)} - refused


def river(path: str, body: bytes) -> tuple[int, bytes]:
    """As Valhalla answers where a river without a bridge flows along the meridian of 25 degrees."""
    asked = json.loads(body)
    if path == "/locate":
        edges = [[{"correlated_lat": one["lat"], "correlated_lon": one["lon"]}] for one in asked["locations"]]
        return 200, json.dumps([{"edges": edge} for edge in edges]).encode()
    sides = {one["lon"] > 25 for one in asked["sources"] + asked["targets"]}
    if len(sides) == 2:
        return 400, b'{"error_code": 170, "error": "Locations are in unconnected regions."}'
    row = [{"time": 1200, "distance": 25} for _ in asked["targets"]]
    return 200, json.dumps({"sources_to_targets": [row for _ in asked["sources"]]}).encode()


def test_an_island_that_a_server_refuses_whole_tables_for_is_found() -> None:
    """Two on each bank: the pairs across the river are missing, the others are there."""
    points = [Point(60, 24.9), Point(60, 25.1), Point(60, 24.8), Point(60, 25.2)]
    with server_that(river) as url:
        answer = ValhallaServer(Server(url)).answer(points)
    assert set(answer.legs) == {(0, 2), (2, 0), (1, 3), (3, 1)}
    assert {(leg.minutes, leg.meters) for leg in answer.legs.values()} == {(20, 25_000)}


@pytest.mark.parametrize("kind", [OsrmServer, ValhallaServer])
@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (200, b"<html>Welcome</html>", r"something other than JSON \(status 200\)"),
        (200, b"{}", "gave an answer that can't be read"),
        (200, b'{"durations": [[0, 1]], "distances": [], "sources": []}', "gave an answer that can't be read"),
        (200, b"[" * 100_000, r"something other than JSON"),
        (
            200,
            b'{"durations": [[0, 1e400], [1, 0]], "distances": 7, "sources": "?"}',
            "gave an answer that can't be read",
        ),
        (400, b'{"code": "TooBig", "message": "Too many places"}', "refused: Too many places"),
        (503, b"{}", "refused: status 503"),
    ],
)
def test_nonsense_is_no_answer(status: int, body: bytes, words: str, kind: Callable[[Server], OsrmServer]) -> None:
    with server_that(lambda _path, _body: (status, body)) as url, pytest.raises(RoadError, match=words):
        kind(Server(url)).answer([Point(60, 25), Point(60.01, 25)])
