"""A mate of a team at every address: what is seen, what is logged, and that nothing else changes by a team.

Two fences hold apart from each other, and each is walked: addresses that teams don't open know no mates, and
services ask what may be changed, whatever the address has opened.
"""

from collections.abc import Mapping

import pytest
from django.test import Client

from caseload.teams import opened
from caseload.teams.models import Team
from tests.config.permission_table import API, LOGGED_IN_TEAM, PAGES, SEEN_IN_TEAM, TABLE, Row
from tests.config.test_permissions_table import _expected, _meaning, _send
from tests.config.things import Things, make_things
from tests.conftest import date_there

pytestmark = [pytest.mark.usefixtures("no_record_of_templates"), pytest.mark.long]


@pytest.fixture
def things(db: None) -> Things:
    """Made once a test; every request is taken back."""
    return make_things()


def team_of(things: Things, shares: str) -> Client:
    """The teacher and the mate share a caseload for ages; the browser is the mate's."""
    today = date_there()
    team = Team.objects.create(
        district=things.cast.district,
        name="PE",
        shares=shares,
        first_day=today.replace(year=2020, day=1),
        last_day=today.replace(year=2100, day=1),
    )
    team.members.set([things.cast.teacher, things.cast.mate])
    client = Client()
    client.force_login(things.cast.mate)
    return client


def _wanted(method: str, name: str, row: Row, shares: str) -> str:
    seen = method == "get" and name in SEEN_IN_TEAM
    logged = shares == Team.Shares.LOG and (method, name) in LOGGED_IN_TEAM
    return "done" if seen or logged else _expected("M", method, row)


def _walk(
    things: Things, client: Client, part: Mapping[str, Row], shares: str, methods: frozenset[str]
) -> dict[str, tuple[str, str]]:
    """What was found and what the table says, where they differ."""
    found = {}
    for name, row in part.items():
        for method in set(row.methods) & methods:
            is_so = _meaning(method, _send(client, method, name, row, things))
            wanted = _wanted(method, name, row, shares)
            if is_so != wanted:
                found[f"{method} {name}"] = is_so, wanted
    return found


@pytest.mark.parametrize("part", [PAGES, API], ids=["pages", "api"])
@pytest.mark.parametrize("shares", list(Team.Shares))
def test_a_mate_at_every_address(part: Mapping[str, Row], shares: str, things: Things) -> None:
    """As the letter M of the table, but for what it says that teams open."""
    client = team_of(things, shares)
    assert _walk(things, client, part, shares, frozenset({"get", "post", "patch", "delete"})) == {}


@pytest.mark.parametrize("part", [PAGES, API], ids=["pages", "api"])
@pytest.mark.parametrize("shares", list(Team.Shares))
def test_services_hold_by_themselves(
    part: Mapping[str, Row], shares: str, things: Things, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With every address opened to teams, as if each were listed by mistake: nothing more can be changed."""
    every = frozenset({"GET", "HEAD", "POST", "PATCH", "DELETE"})
    monkeypatch.setattr(opened, "OPENED", dict.fromkeys(TABLE, every))
    client = team_of(things, shares)
    assert _walk(things, client, part, shares, frozenset({"post", "patch", "delete"})) == {}


def test_what_teams_open_are_addresses() -> None:
    """Each has a row in the table with the method; what only reads is never opened to change."""
    for name, methods in opened.OPENED.items():
        has = {method.upper() for method in TABLE[name].methods} | {"HEAD"}
        assert methods <= has, name
        changes = methods - opened.SEE
        assert not changes or name in {
            "log_session", "log_correct", "log_undo", "day_mark", "data_take", "data_undo", "data_restore",
            "api:session_log", "api:log_undo", "api:log_entry-correct", "api:day_mark", "api:data_point-list",
            "api:data_point-undo", "api:data_point-restore",
        }  # fmt: skip
    assert set(opened.OPENED) >= opened.LOGS_ONLY
