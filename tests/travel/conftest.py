"""Roads for the tests of drive times."""

from tests.roads import helsinki, helsinki_engine, helsinki_roads, osrm_server, second_roads, valhalla_server

__all__ = ["helsinki", "helsinki_engine", "helsinki_roads", "osrm_server", "second_roads", "valhalla_server"]
