"""A client generated from docs/openapi.yaml goes one whole way, from an empty district to a minutes report."""

import datetime as dt
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pytest_django.live_server_helper import LiveServer

from accounts.models import District, Person
from accounts.tokens.services import token_make
from jobs.runner import work_once
from tests.config.client_path import PACKAGE
from tests.conftest import ZONE, date_there, make_person

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = ROOT / "docs" / "openapi.yaml"


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the client's package in it."""
    folder = tmp_path_factory.mktemp("client")
    settings = folder / "settings.yaml"
    settings.write_text(f"package_name_override: {PACKAGE}\npost_hooks: []\n", encoding="utf-8")
    subprocess.run(
        [
            sys.executable, "-m", "openapi_python_client", "generate", "--path", str(SCHEMA), "--meta", "none",
            "--output-path", str(folder / PACKAGE), "--config", str(settings),
        ],
        check=True, capture_output=True, cwd=folder,
    )  # fmt: skip
    return folder


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_a_generated_client_goes_the_whole_way(generated: Path, live_server: LiveServer) -> None:
    """Token, building, student, plan with minutes, a week planned and published, logged, the minutes report."""
    district = District.objects.create(name="Marrow Vale County", time_zone=ZONE, state="NY")
    teacher = make_person(district, "teacher", Person.Role.TEACHER)
    today = date_there()
    _, token = token_make(actor=teacher, name="client", scope="write", last_day=today + dt.timedelta(days=30))
    monday = today - dt.timedelta(days=today.weekday() + 7)
    told = _driven(generated, {"site": live_server.url, "token": token, "monday": str(monday)})
    assert told["status"] == "published"
    # 2 x 30 min/week, as the plan says: two sessions of 30 minutes, all of them logged as given.
    assert told["minutes_a_session"] == 30
    assert told["logged"] == [30, 30]
    services = told["report"]["tables"][0]
    figures = dict(zip(services["columns"], services["rows"][0], strict=True))
    assert {name: figures[name] for name in ("Owed", "Delivered", "Still owed")} == {
        "Owed": 60, "Delivered": 60, "Still owed": 0,
    }  # fmt: skip


def _driven(generated: Path, told: dict[str, str]) -> dict[str, Any]:
    """Run the client, and the job that it waits for; what it says at the end."""
    path = os.pathsep.join([str(generated), str(ROOT)])
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.config.client_path"],
        env={**os.environ, "PYTHONPATH": path}, cwd=generated, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdin is not None
    assert process.stdout is not None
    with process:
        process.stdin.write(json.dumps(told) + "\n")
        process.stdin.flush()
        asked = process.stdout.readline()
        if asked:
            assert work_once()
        said, wrong = process.communicate("\n")
    assert process.returncode == 0, wrong
    found: dict[str, Any] = json.loads(said)
    return found
