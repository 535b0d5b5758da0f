"""Reads of the addresses that a district's school calendar is read from, as pages show them."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from accounts.models import Person
from accounts.selectors import today_of
from schedule.calendar.models import CalendarEntry, CalendarSource, WordRule
from schedule.calendar.published.groups import DAY_KINDS, EventGroup

# Ends of the school year are decided in the preview, where their dates are seen together.
ANSWERS = tuple(
    (value, label)
    for value, label in WordRule.Kind.choices
    if value in DAY_KINDS or value == WordRule.Kind.ORDINARY
)
KIND_WORDS = dict(CalendarEntry.Kind.choices)


@dataclass(frozen=True, slots=True)
class ToldDay:
    """A day of a published calendar; `key` is that of its entry, where there is one. Dates are both included.

    `asked`: the title leaves open what it is.
    """

    first: dt.date
    last: dt.date
    kind: str
    title: str
    key: int | None = None
    gone: bool = False
    asked: bool = False


@dataclass(frozen=True, slots=True)
class AddressRow:
    """An address with what waits: counts in words, the days of the coming week, and the first questions."""

    source: CalendarSource
    waits: tuple[str, ...]
    soon: tuple[ToldDay, ...]
    questions: tuple[EventGroup, ...]
    answers: tuple[tuple[str, str], ...] = ANSWERS

    @property
    def host(self) -> str:
        """The part of the address that may be shown: what follows can be a secret."""
        return urlsplit(self.source.address).hostname or ""

    @property
    def more_questions(self) -> int:
        """How many there are beyond the first."""
        return int(self.source.waiting.get("doubtful", 0)) - len(self.questions)

    @property
    def plain(self) -> int:
        """How many days can be saved without a look."""
        return int(self.source.waiting.get("plain", 0))


def address_rows(viewer: Person) -> tuple[AddressRow, ...]:
    """The district's addresses, by name."""
    today = today_of(viewer)
    rows = CalendarSource.objects.visible_to(viewer).defer("content").select_related("building", "keeper")
    return tuple(AddressRow(row, _waits(row.waiting), _soon(row.waiting, today), questions_of(row)) for row in rows)


def questions_of(source: CalendarSource) -> tuple[EventGroup, ...]:
    """Events whose titles leave open what they are, those that come first."""
    return tuple(EventGroup.from_json(stored) for stored in source.waiting.get("questions", []))


def gone_days(content: Mapping[str, Any]) -> tuple[ToldDay, ...]:
    """The days that a preview offers to take out."""
    return tuple(
        ToldDay(
            dt.date.fromisoformat(day["first"]),
            dt.date.fromisoformat(day["last"]),
            KIND_WORDS.get(day["kind"], day["kind"]),
            day["title"],
            day["entry"],
            gone=True,
        )
        for day in content.get("gone", [])
    )


def _waits(waiting: Mapping[str, Any]) -> tuple[str, ...]:
    said = {
        "new": "{} new",
        "changed": "{} changed",
        "gone": "{} no longer in it",
        "ends": "{} for the ends of the school year",
        "unrecognised": "{} not recognized",
        "doubtful": "{} to ask you about",
    }
    return tuple(words.format(waiting[name]) for name, words in said.items() if waiting.get(name))


def _soon(waiting: Mapping[str, Any], today: dt.date) -> tuple[ToldDay, ...]:
    found = (
        ToldDay(
            dt.date.fromisoformat(first), dt.date.fromisoformat(last), KIND_WORDS.get(kind, kind), title,
            gone=what == "gone", asked=what == "asked",
        )
        for what, first, last, kind, title in waiting.get("soon", [])
    )  # fmt: skip
    return tuple(day for day in found if day.last >= today)
