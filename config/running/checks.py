"""What holds a secret is its owner's alone."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Warning  # noqa: A004 -- Django's name for this kind of message

from accounts.own_files import is_open_to_others, of_database


def _secret_files() -> Iterator[Path]:
    yield Path(settings.SECRET_KEY_FILE)
    yield Path(settings.PUSH_KEY_FILE)
    database = settings.DATABASES["default"]
    if database["ENGINE"] == "django.db.backends.sqlite3":
        yield from of_database(Path(database["NAME"]))


def secrets_are_the_owners(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Nobody but the program's user can read keys and the embedded database."""
    return [
        Warning(f"{file} can be read by others than its owner.", hint=f"chmod 600 {file}", id="config.W001")
        for file in _secret_files()
        if is_open_to_others(file)
    ]
