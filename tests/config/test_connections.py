"""Many browsers that hold a connection open keep nobody waiting (waitress takes 100 and no more unless told:
its documentation, Arguments to waitress.serve, ``connection_limit`` and ``channel_timeout``)."""

from tests.databases import ROOT
from tests.servers import free_port
from tests.sides import Side
from tests.visitor import Visitor

HELD = 120
"""More than waitress takes by itself."""


def test_one_more_is_answered(sqlite_side: Side) -> None:
    port = free_port()
    site = f"http://127.0.0.1:{port}"
    sqlite_side.start(ROOT / "manage.py", "serve", WEB_LISTEN=f"127.0.0.1:{port}")
    Visitor(site).wait("/health/")
    held = [Visitor(site) for _ in range(HELD)]
    assert [one.ask("GET", "/health/").status for one in held] == [200] * HELD
