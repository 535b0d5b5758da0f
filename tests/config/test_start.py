"""The published key: whoever serves others with it doesn't start and is told how to make one."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.checks import Tags, run_checks
from django.core.exceptions import ImproperlyConfigured
from pytest_django.fixtures import Settings

from config.checks import is_this_machine
from config.start import end_if_unfit, refuse_if_unfit
from jobs.checks import START
from tests.services import free_port

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
WAIT_SECONDS = 120
OF_ITS_OWN = {"DATABASE_URL": "sqlite://:memory:", "JOBS_IN_PROCESS": "0"}
"""The default database is the file of whoever runs the tests."""
MAKE_A_KEY = "import secrets; print(secrets.token_urlsafe(50))"


def run_until_it_ends(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A process on the real settings, with nothing of this run's environment that changes them."""
    names = ("DATABASE_URL", "REDIS_URL", "DEBUG", "SECRET_KEY", "ALLOWED_HOSTS", "HTTPS_ONLY", "SITE_ADDRESS")
    given = {name: text for name, text in os.environ.items() if name not in names}
    return subprocess.run(
        [sys.executable, *words],
        env={**given, **OF_ITS_OWN, "DJANGO_SETTINGS_MODULE": "config.settings", **environment},
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=WAIT_SECONDS,
    )  # fmt: skip


PROGRAMS = {
    "waitress": ("-m", "waitress", f"--listen=127.0.0.1:{free_port()}", "config.wsgi:application"),
    "gunicorn": ("-m", "gunicorn", f"--bind=127.0.0.1:{free_port()}", "config.wsgi:application"),
    "gunicorn with ASGI": ("-m", "gunicorn", f"--bind=127.0.0.1:{free_port()}", "config.asgi:application"),
    "Celery's worker": ("-m", "celery", "-A", "config", "worker"),
    "Celery's beat": ("-m", "celery", "-A", "config", "beat", "--schedule", "{home}/beat"),
    "a command": ("manage.py", "migrate", "--check"),
}


@pytest.mark.parametrize("program", PROGRAMS)
def test_nothing_that_others_reach_starts_with_the_published_key(program: str, tmp_path: Path) -> None:
    redis = f"redis://127.0.0.1:{free_port()}/0"
    # Beat removes a schedule that it can't read, so that is never a file of the machine's.
    words = [word.format(home=tmp_path) for word in PROGRAMS[program]]
    done = run_until_it_ends(*words, HTTPS_ONLY="1", REDIS_URL=redis)
    assert done.returncode not in {0, None}
    said = done.stdout + done.stderr
    assert "HTTPS_ONLY is on" in said
    assert MAKE_A_KEY in said


def test_check_deploy_speaks_of_the_key_whatever_the_other_settings_are() -> None:
    laptop = run_until_it_ends("manage.py", "check", "--deploy")
    assert laptop.returncode != 0
    assert MAKE_A_KEY in laptop.stderr
    # The remedy, followed to the letter, is the end of it.
    key = run_until_it_ends("-c", MAKE_A_KEY).stdout.strip()
    assert "SECRET_KEY" not in run_until_it_ends("manage.py", "check", "--deploy", SECRET_KEY=key).stderr


def test_a_laptop_starts_with_it() -> None:
    done = run_until_it_ends("-c", "import config.wsgi, config.asgi")
    assert done.returncode == 0, done.stderr


@pytest.fixture
def laptop(settings: Settings) -> Settings:
    """The embedded defaults."""
    settings.SECRET_KEY = settings.PUBLISHED_KEY
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
    return settings


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("ALLOWED_HOSTS", ["localhost", "plan.school.example"]),
        ("ALLOWED_HOSTS", ["*"]),
        ("ALLOWED_HOSTS", ["192.0.2.10"]),
        ("SECURE_SSL_REDIRECT", True),
        ("CSRF_TRUSTED_ORIGINS", ["https://plan.school.example"]),
        ("SITE_ADDRESS", "https://plan.school.example"),
    ],
)
def test_each_sign_of_others_is_enough(laptop: Settings, name: str, value: object) -> None:
    refuse_if_unfit()
    setattr(laptop, name, value)
    with pytest.raises(ImproperlyConfigured, match="Other machines can reach it"):
        refuse_if_unfit()
    with pytest.raises(SystemExit, match="Other machines can reach it"):
        end_if_unfit()
    laptop.SECRET_KEY = "a-key-of-its-own-0123456789-abcdefghijklmnopqrstuvwxyz"
    refuse_if_unfit()


def test_one_thing_is_said_once(laptop: Settings) -> None:
    laptop.ALLOWED_HOSTS = ["*"]
    found = run_checks(tags=[START, Tags.security], include_deployment_checks=True)
    assert [one.id for one in found if "SECRET_KEY" in one.msg] == ["config.E001"]


@pytest.mark.parametrize(
    ("host", "here"),
    [
        # RFC 6761, 6.3: localhost and whatever ends in it; RFC 6890: 127.0.0.0/8 and ::1 are loopback.
        ("localhost", True),
        ("LOCALHOST.", True),
        ("plan.localhost", True),
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("[::1]", True),
        ("::1", True),
        # Any name below, or any name at all (Django's patterns).
        (".localhost.example", False),
        ("*", False),
        # RFC 1918: others of the same network reach a private address.
        ("10.0.0.7", False),
        ("0.0.0.0", False),  # noqa: S104 -- nothing is bound to it here
        ("localhost.school.example", False),
        ("", False),
    ],
)
def test_which_hosts_are_this_machine(host: str, here: bool) -> None:
    assert is_this_machine(host) is here
