"""Road servers on loopback, asked over HTTP: real ones, killed in the middle and started again."""

import json
import socket
from collections.abc import Callable

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


def test_a_silent_server_is_given_up() -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        server = Server(f"http://127.0.0.1:{listener.getsockname()[1]}", read_seconds=0.1)
        with pytest.raises(RoadError, match=r"does not answer \(ReadTimeout\)"):
            OsrmServer(server).answer([Point(60, 25), Point(60.01, 25)])


def river(path: str, body: bytes) -> tuple[int, bytes]:
    """As Valhalla answers where a river without a bridge flows along the meridian of 25 degrees."""
    asked = json.loads(body)
    if path == "/locate":
        edges = [[{"correlated_lat": one["lat"], "correlated_lon": one["lon"]}] for one in asked["locations"]]
        return 200, json.dumps([{"edges": edge} for edge in edges]).encode()
    sides = {one["lon"] > 25 for one in asked["sources"] + asked["targets"]}
    if len(sides) == 2:
        return 400, b'{"error_code": 170, "error": "Locations are in unconnected regions."}'
    row = [{"time": 60, "distance": 1.5} for _ in asked["targets"]]
    return 200, json.dumps({"sources_to_targets": [row for _ in asked["sources"]]}).encode()


def test_an_island_that_a_server_refuses_whole_tables_for_is_found() -> None:
    """Two on each bank: the pairs across the river are missing, the others are there."""
    points = [Point(60, 24.9), Point(60, 25.1), Point(60, 24.8), Point(60, 25.2)]
    with server_that(river) as url:
        answer = ValhallaServer(Server(url)).answer(points)
    assert set(answer.legs) == {(0, 2), (2, 0), (1, 3), (3, 1)}
    assert {(leg.minutes, leg.meters) for leg in answer.legs.values()} == {(1, 1500)}


@pytest.mark.parametrize("kind", [OsrmServer, ValhallaServer])
@pytest.mark.parametrize(
    ("status", "body", "words"),
    [
        (200, b"<html>Welcome</html>", r"something other than JSON \(status 200\)"),
        (200, b"{}", "gave an answer that can't be read"),
        (200, b'{"durations": [[0, 1]], "distances": [], "sources": []}', "gave an answer that can't be read"),
        (400, b'{"code": "TooBig", "message": "Too many places"}', "refused: Too many places"),
        (503, b"{}", "refused: status 503"),
    ],
)
def test_nonsense_is_no_answer(status: int, body: bytes, words: str, kind: Callable[[Server], OsrmServer]) -> None:
    with server_that(lambda _path, _body: (status, body)) as url, pytest.raises(RoadError, match=words):
        kind(Server(url)).answer([Point(60, 25), Point(60.01, 25)])
