"""Whether the process lives, and whether it can be given requests: two questions of whoever watches it."""

import datetime as dt
from functools import lru_cache

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, InterfaceError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from config.running.scanning import scanner_word
from jobs.selectors import oldest_waiting

OK = "ok"
LATE_AFTER = dt.timedelta(minutes=5)
"""A job that nobody has begun for so long: common practice, no source."""


@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 while the process answers, whatever its database does: starting it again would help with nothing else."""
    return HttpResponse("ok\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """200 if the database answers and has the tables of this version, else 503.

    A word for each part and no more, since anyone may ask. Work that waits for a worker is told, and turns nobody
    away: pages do without one. A scanner that is away refuses uploads alone.
    """
    told = _parts()
    if scanner := scanner_word():
        told["scanner"] = scanner
    fit = told["database"] == told["migrations"] == OK
    return JsonResponse(told, status=200 if fit else 503)


def _parts() -> dict[str, str]:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        missing = _migrations_missing()
        queue = "unknown" if missing else _queue()
    except (DatabaseError, InterfaceError):
        return {"database": "away", "migrations": "unknown", "queue": "unknown"}
    return {"database": OK, "migrations": "missing" if missing else OK, "queue": queue}


def _migrations_missing() -> bool:
    try:
        return not _migrated()
    except _NotMigratedError:
        return True


class _NotMigratedError(Exception):
    """Raised so that only the good answer is kept: tables don't go away while a process lives."""


@lru_cache(maxsize=1)
def _migrated() -> bool:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise _NotMigratedError
    return True


def _queue() -> str:
    oldest = oldest_waiting()
    if oldest is None or timezone.now() - oldest < LATE_AFTER:
        return OK
    return "late: no worker" if settings.WEB_STARTS_WORKER else "late: no worker, or no beat"
