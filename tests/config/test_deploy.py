"""What docs/deploy hands out: units that systemd takes, a composition of what is there, settings that fit."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from tests.databases import ROOT
from tests.servers import RedisServer, free_port
from tests.services import leave_out
from tests.sides import Side, wait_for
from tests.visitor import Visitor

DEPLOY = ROOT / "docs" / "deploy"
UNITS = [*sorted(path.name for path in DEPLOY.glob("*.service")), "minutes-and-miles-backup.timer"]
INSTALLED, KEPT = "/srv/minutes-and-miles", "/var/lib/minutes-and-miles"


def _settings() -> dict[str, str]:
    """Those of the file for systemd."""
    lines = (DEPLOY / "minutes-and-miles.env").read_text(encoding="utf-8").splitlines()
    return dict(line.split("=", 1) for line in lines if line and not line.startswith("#"))


def _command(unit: str) -> list[str]:
    text = (DEPLOY / unit).read_text(encoding="utf-8")
    found = re.search(r"^ExecStart=(.+)$", text, re.MULTILINE)
    assert found is not None
    words = found[1].split()
    assert words[0] == f"{INSTALLED}/.venv/bin/python"
    return words[1:]


def _documented() -> set[str]:
    return set(re.findall(r"`([A-Z_]+)`", (ROOT / "docs" / "running.md").read_text(encoding="utf-8")))


@pytest.mark.parametrize("unit", UNITS)
def test_systemd_takes_each_unit(unit: str, tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        leave_out("systemd-analyze (Debian package systemd)", "the test of the units")
    for name in UNITS:
        text = (DEPLOY / name).read_text(encoding="utf-8")
        # The interpreter of this run stands for the installed one, and its user for the service's.
        text = text.replace(f"{INSTALLED}/.venv/bin/python", sys.executable).replace("=minutes\n", "=root\n")
        (tmp_path / name).write_text(text, encoding="utf-8")
    done = subprocess.run(
        [analyze, "verify", "--man=no", "--recursive-errors=no", tmp_path / unit],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.long
def test_check_deploy_has_nothing_to_say_of_these_settings(tmp_path: Path) -> None:
    given = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        env={**given, **_settings(), "VAR_DIR": str(tmp_path)},
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_every_setting_of_them_is_in_the_table() -> None:
    composed = yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))
    told = set(_settings()) | set(composed["x-program"]["environment"])
    assert "DATABASE_URL" in told
    assert told - _documented() == set()


def test_the_composition_starts_the_programs_that_there_are() -> None:
    services = yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))["services"]
    ours = {name: one for name, one in services.items() if one["image"] == "minutes-and-miles"}
    assert set(ours) == {"migrate", "web", "worker", "beat"}
    # The same words as in the units, which are run below.
    for name in ("worker", "beat"):
        units = " ".join(_command(f"minutes-and-miles-{name}.service")).removeprefix("-m ")
        assert ours[name]["command"].split(" --")[0] == units.split(" --")[0]
    dockerfile = (DEPLOY / "Dockerfile").read_text(encoding="utf-8")
    assert 'CMD ["python", "manage.py", "serve"]' in dockerfile
    assert "--require-hashes -r requirements-lock.txt" in dockerfile
    for one in ours.values():
        assert (ROOT / "docs/deploy" / one["build"]["context"]).resolve() == ROOT
        assert (ROOT / one["build"]["dockerfile"]).exists()
        assert set(one.get("depends_on", {})) <= set(services)


@pytest.fixture
def started(postgres_side: Side, redis_server: RedisServer, tmp_path: Path) -> Visitor:
    """The units' own commands with the file's settings, on a real PostgreSQL and Redis."""
    redis_server.start()
    port = free_port()
    here = {
        "DATABASE_URL": postgres_side.url, "REDIS_URL": redis_server.url, "VAR_DIR": str(tmp_path),
        "NUMBA_CACHE_DIR": os.environ.get("NUMBA_CACHE_DIR", ""), "WEB_LISTEN": f"127.0.0.1:{port}",
    }  # fmt: skip
    environment = {name: value for name, value in {**_settings(), **here}.items() if value}
    for name in ("web", "worker", "beat"):
        words = [word.replace(KEPT, str(tmp_path)) for word in _command(f"minutes-and-miles-{name}.service")]
        place = [str(ROOT / word) if word == "manage.py" else word for word in words]
        postgres_side.start(*place, **environment)
    return Visitor(f"http://127.0.0.1:{port}")


@pytest.mark.long
@pytest.mark.redis
@pytest.mark.postgres
def test_the_units_commands_serve_and_work(
    started: Visitor, postgres_side: Side, redis_server: RedisServer
) -> None:
    started.wait()
    proxied = {"Host": "plan.school.example", "X-Forwarded-Proto": "https", "X-Forwarded-For": "198.51.100.7"}
    assert started.ask("GET", "/ready/", **proxied).json() == {"database": "ok", "migrations": "ok", "queue": "ok"}
    postgres_side.manage("side", "add", REDIS_URL=redis_server.url)
    wait_for(postgres_side.is_over, "the worker to do a job")
    assert postgres_side.jobs() == [("done", 1)]
    assert all(process.poll() is None for process in postgres_side.processes)
