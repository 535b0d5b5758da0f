"""Two web servers with one database count a token's requests together, on both databases."""

import pytest

from accounts.tokens.rates import ALLOWED
from tests.databases import ROOT
from tests.servers import free_port
from tests.sides import Side
from tests.visitor import Visitor

MAKE = """
import datetime as dt
from accounts.tokens.services import token_make
from tests.conftest import make_cast
last = dt.datetime.now(tz=dt.UTC).date() + dt.timedelta(days=9)
print("made", token_make(actor=make_cast().teacher, name="sheet", scope="read", last_day=last)[1])
"""
LEFT = 10
FILL = f"from accounts.models import ApiToken; ApiToken.objects.update(taken={ALLOWED - LEFT})"


def _serving(side: Side) -> Visitor:
    port = free_port()
    side.start(ROOT / "manage.py", "serve", WEB_LISTEN=f"127.0.0.1:{port}")
    visitor = Visitor(f"http://127.0.0.1:{port}")
    visitor.wait()
    return visitor


@pytest.mark.long
def test_two_web_servers_count_together(side: Side) -> None:
    printed = side.manage("shell", "-c", MAKE)
    token = printed[printed.index("made") + 1]
    servers = [_serving(side), _serving(side)]

    def ask(number: int) -> tuple[int, str]:
        answer = servers[number % 2].ask("GET", "/api/1/district/", Authorization=f"Bearer {token}")
        return answer.status, answer.headers["RateLimit"].split(";")[1]

    assert ask(0) == (200, f"r={ALLOWED - 1}")
    assert ask(1) == (200, f"r={ALLOWED - 2}")
    side.manage("shell", "-c", FILL)
    found = [ask(number) for number in range(LEFT + 4)]
    assert found == [*((200, f"r={left}") for left in reversed(range(LEFT))), *[(429, "r=0")] * 4]
