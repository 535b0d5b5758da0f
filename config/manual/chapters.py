"""The chapters of the manual in the order in which they are read, from `docs/manual/`."""

import hashlib
from functools import cache
from pathlib import Path

from django.conf import settings
from django.urls import reverse

from config.manual.rendering import Addresses, Chapter, chapter_from

FOLDER = Path(settings.BASE_DIR) / "docs" / "manual"
NAMES = (
    "morning", "logging", "goals", "class-hour", "weeks", "something-happened", "students", "minutes", "mileage",
    "calendars", "without-signal", "standing-in", "year", "people", "privacy",
)  # fmt: skip


def chapter_address(name: str, section: str = "") -> str:
    """Where a chapter is read, at one of its sections if that is given."""
    address = reverse("manual_chapter", args=[name])
    return f"{address}#{section}" if section else address


def chapter_text(name: str) -> str:
    """A chapter as it is written, in Markdown."""
    return (FOLDER / f"{name}.md").read_text(encoding="utf-8")


def chapters() -> tuple[Chapter, ...]:
    """Every chapter, to be read by itself; rendered once, and each time while somebody works on them."""
    return _apart() if settings.DEBUG else _kept_apart()


def whole() -> tuple[Chapter, ...]:
    """Every chapter, to be read on one page with the others."""
    return _rendered(Addresses(reverse, _below, whole=True))


def kept_addresses() -> list[str]:
    """The pages of the manual that every phone holds, whoever signed in there: contents and chapters."""
    return [reverse("manual"), *(chapter_address(name) for name in NAMES)]


def chapters_digest() -> str:
    """What changes with any word of them, in twelve hex digits."""
    return hashlib.sha256("".join(one.html for one in chapters()).encode()).hexdigest()[:12]


def _below(name: str, section: str = "") -> str:
    return f"#{name}-{section}" if section else f"#{name}"


def _rendered(addresses: Addresses) -> tuple[Chapter, ...]:
    return tuple(chapter_from(name, chapter_text(name), addresses) for name in NAMES)


def _apart() -> tuple[Chapter, ...]:
    return _rendered(Addresses(reverse, chapter_address))


_kept_apart = cache(_apart)
