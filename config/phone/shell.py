"""What of the program itself lies on the phone: static files, whose addresses change with their content."""

import hashlib
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import StaticFilesStorage

# What the worker runs, in this order.
SCRIPTS = ("vendor/idb.js", "store.js", "passcode.js", "push.js")
# Files of pages that must be there before any page was opened; others are kept as they are met.
SHELL = (
    "site.css", "manual.css", "icon.svg", "vendor/htmx.min.js", "site.js", *SCRIPTS, "phone.js",
    "phone-settings.js", "queue.js", "toast.js", "queue-forms.js", "unsent.js",
    "schedule/day.css", "schedule/day.js", "schedule/happenings.css", "schedule/class-hour.css",
    "schedule/class-hour.js", "schedule/log.css", "schedule/log-tap.js",
    "schedule/stations.css", "schedule/mileage.css", "schedule/packet.css", "caseload/progress.css",
    "caseload/take.js",
)  # fmt: skip


class VersionedStorage(StaticFilesStorage):
    """Static files whose address carries a digest of the file: a kept copy of an address is never out of date."""

    def url(self, name: str | None, force: bool = False) -> str:
        """The address of a file, as `{% static %}` writes it; of one that isn't there the plain one."""
        address = super().url(name)
        digest = _digest_of(name) if name else ""
        return f"{address}?v={digest}" if digest else address


def static_text(name: str) -> str:
    """The text of a static file of ours.

    Raises ``FileNotFoundError`` if there is none of this name.
    """
    found = finders.find(name)
    if found is None:
        raise FileNotFoundError(name)
    return Path(found).read_text(encoding="utf-8")


def _digest(name: str) -> str:
    found = finders.find(name)
    return hashlib.sha256(Path(found).read_bytes()).hexdigest()[:12] if found else ""


_kept_digest = cache(_digest)


def _digest_of(name: str) -> str:
    """Read once in the life of a process; each time while somebody works on the files."""
    return _digest(name) if settings.DEBUG else _kept_digest(name)
