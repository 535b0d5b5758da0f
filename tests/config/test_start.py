"""The first start makes its own key and keeps it; nothing starts with a key that is none."""

import os
import re
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from config.running.secret_key import SHORTEST, own_key
from tests.services import free_port

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
WAIT_SECONDS = 120
SETTINGS = ("DATABASE_URL", "REDIS_URL", "DEBUG", "SECRET_KEY", "ALLOWED_HOSTS", "HTTPS_ONLY", "SITE_ADDRESS")
PRINT_KEY = "from django.conf import settings; print(settings.SECRET_KEY)"
MAKE_TABLE = (
    "import django; django.setup(); from django.db import connection; "
    "connection.cursor().execute('CREATE TABLE one (id integer)'); "
    "import os; print(*sorted(f'{f}:{os.stat(f).st_mode & 0o777:o}' for f in os.listdir()))"
)


def run_until_it_ends(
    home: Path, *words: str, umask: int = -1, **environment: str
) -> subprocess.CompletedProcess[str]:
    """A process on the real settings, with nothing of this run's environment that changes them."""
    given = {name: text for name, text in os.environ.items() if name not in SETTINGS}
    own = {"VAR_DIR": str(home), "WEB_STARTS_WORKER": "0", "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, *words],
        env={**given, **own, "DJANGO_SETTINGS_MODULE": "config.settings", **environment},
        cwd=home if words[0] == "-c" else ROOT, umask=umask,
        capture_output=True, text=True, check=False, timeout=WAIT_SECONDS,
    )  # fmt: skip


def test_the_first_start_makes_a_key_and_every_later_one_keeps_it(tmp_path: Path) -> None:
    # The widest rights that a shell can hand down.
    first = run_until_it_ends(tmp_path, "-c", PRINT_KEY, umask=0)
    assert first.returncode == 0, first.stderr
    key, file = first.stdout.strip(), tmp_path / "secret-key"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert file.read_text() == key
    # RFC 4648, 5: the letters that need no quoting. NIST SP 800-131A wants 112 bits; each letter carries six.
    assert re.fullmatch(r"[\w-]{50,}", key)
    assert run_until_it_ends(tmp_path, "-c", PRINT_KEY).stdout.strip() == key
    elsewhere = tmp_path / "elsewhere"
    assert run_until_it_ends(elsewhere, "manage.py", "check").returncode == 0
    assert (elsewhere / "secret-key").read_text() != key


def test_processes_that_start_at_once_have_the_same_key(tmp_path: Path) -> None:
    with ThreadPoolExecutor(16) as several:
        keys = set(several.map(lambda _number: own_key(tmp_path / "key"), range(200)))
    assert len(keys) == 1
    assert [one.name for one in tmp_path.iterdir()] == ["key"]


def test_a_key_that_is_given_is_taken_and_none_is_made(tmp_path: Path) -> None:
    given = "a-key-of-its-own-0123456789-abcdefghijklmnopqrstuvwxyz"
    assert run_until_it_ends(tmp_path, "-c", PRINT_KEY, SECRET_KEY=given).stdout.strip() == given
    named = tmp_path / "named"
    named.write_text(f"{given}\n", encoding="utf-8")
    assert run_until_it_ends(tmp_path, "-c", PRINT_KEY, SECRET_KEY_FILE=str(named)).stdout.strip() == given
    assert not (tmp_path / "secret-key").exists()


PROGRAMS = {
    "waitress": ("-m", "waitress", f"--listen=127.0.0.1:{free_port()}", "config.wsgi:application"),
    "gunicorn": ("-m", "gunicorn", f"--bind=127.0.0.1:{free_port()}", "config.wsgi:application"),
    "gunicorn with ASGI": ("-m", "gunicorn", f"--bind=127.0.0.1:{free_port()}", "config.asgi:application"),
    "Celery's worker": ("-m", "celery", "-A", "config", "worker"),
    "Celery's beat": ("-m", "celery", "-A", "config", "beat", "--schedule", "{home}/beat"),
    "a command": ("manage.py", "migrate", "--check"),
}


@pytest.mark.parametrize("program", PROGRAMS)
def test_nothing_starts_with_a_key_that_is_none(program: str, tmp_path: Path) -> None:
    redis = f"redis://127.0.0.1:{free_port()}/0"
    # Beat removes a schedule that it can't read, so that is never a file of the machine's.
    words = [word.format(home=tmp_path) for word in PROGRAMS[program]]
    (tmp_path / "secret-key").write_text("short", encoding="utf-8")
    done = run_until_it_ends(tmp_path, *words, REDIS_URL=redis)
    assert done.returncode not in {0, None}
    assert "secret-key holds 5 letters, too few for a key. Delete it" in done.stdout + done.stderr


def test_a_key_that_cannot_be_read_is_named_with_the_remedy(tmp_path: Path) -> None:
    (tmp_path / "secret-key").mkdir()
    done = run_until_it_ends(tmp_path, "manage.py", "check")
    assert done.returncode != 0
    assert f"The key in {tmp_path / 'secret-key'} can't be read or made (IsADirectoryError)" in done.stderr
    assert "SECRET_KEY_FILE" in done.stderr


def test_the_database_is_its_owners_from_the_first_byte(tmp_path: Path) -> None:
    done = run_until_it_ends(tmp_path, "-c", MAKE_TABLE, umask=0)
    assert done.returncode == 0, done.stderr
    names = ("minutes-and-miles.sqlite3", "minutes-and-miles.sqlite3-shm", "minutes-and-miles.sqlite3-wal")
    assert set(done.stdout.split()) == {*(f"{name}:600" for name in names), "secret-key:600", "static:777"}


def test_a_key_that_others_can_read_is_named_and_a_database_closed_to_them(tmp_path: Path) -> None:
    database, key = tmp_path / "minutes-and-miles.sqlite3", tmp_path / "secret-key"
    database.touch(0o644)
    key.write_text("x" * SHORTEST, encoding="utf-8")
    key.chmod(0o644)
    # Whatever looks at the database opens it.
    assert f"chmod 600 {key}" in run_until_it_ends(tmp_path, "manage.py", "check", "--deploy").stderr
    assert stat.S_IMODE(database.stat().st_mode) == 0o600
    key.chmod(0o600)
    assert "can be read by others" not in run_until_it_ends(tmp_path, "manage.py", "check", "--deploy").stderr
