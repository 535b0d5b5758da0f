"""What must hold before work can be sent through Redis, found when the program starts and not at the first plan."""

from collections.abc import Sequence
from typing import Any

from celery import current_app
from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error

#: Tag of the checks without which no server, worker or beat starts (config.running.start).
START = "start"
#: How an address of Redis may begin: plain, over TLS, through a socket of this machine.
SCHEMES = ("redis://", "rediss://", "redis+socket://")
EXAMPLE = "redis://127.0.0.1:6379/0"


def broker_problem(url: str) -> str:
    """What keeps work from being sent to this address of Redis; empty if nothing does that shows from here.

    Whether a server answers there is not asked: one that is down loses nothing.
    """
    if not url.startswith(SCHEMES):
        return f"REDIS_URL begins with none of {', '.join(SCHEMES)}"
    try:
        with current_app.connection_for_write(url) as connection:
            # The packages for a kind of broker are imported here and not before.
            database = connection.transport.client.virtual_host.strip("/")
    except ImportError as error:
        return f"REDIS_URL is set, but a package for Redis is missing ({error})"
    except ValueError as error:
        return f"REDIS_URL can't be read: {error}"
    if "socket" not in url.partition(":")[0] and database and not database.isdecimal():
        return f"REDIS_URL ends in /{database}, which isn't a database number"
    return ""


def broker_usable(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """REDIS_URL, if there is one, is the address of a Redis and the packages for it are there."""
    problem = broker_problem(settings.REDIS_URL) if settings.REDIS_URL else ""
    hint = f"Install requirements.txt and give an address such as {EXAMPLE}, or unset REDIS_URL."
    return [Error(f"{problem}.", hint=hint, id="jobs.E001")] if problem else []
