"""What is signed of a month: the content, its digest, and what differs between two contents. Pure.

A content is plain JSON: whole numbers, texts and None, no name of a student and no note (of a note only its
SHA-256). Its canonical form has the keys in order and no spaces, as RFC 8785 writes JSON of such values; the digest
is the SHA-256 (FIPS 180-4) of that form in UTF-8, so that anybody can check it without this program.
"""

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

FORMAT = 1
type Content = Mapping[str, Any]
FIGURES = {"owed": "owed", "delivered": "delivered", "made_up": "made up", "behind": "still owed"}


def canonical(content: Content) -> bytes:
    """The one form of a content that is digested."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def digest_of(content: Content) -> str:
    """SHA-256 of the canonical form, as 64 hex digits."""
    return hashlib.sha256(canonical(content)).hexdigest()


def note_digest(note: str) -> str:
    """Of a note, which is not repeated in the content; empty for none."""
    return hashlib.sha256(note.encode()).hexdigest() if note else ""


def month_content(
    *,
    teacher: int,
    month: str,
    entries: Iterable[Mapping[str, Any]],
    not_logged: Iterable[Mapping[str, Any]],
    figures: Iterable[Mapping[str, Any]],
) -> dict[str, Any]:
    """A month's log, each part in the order of ids, so that the same log is always the same content."""
    return {
        "format": FORMAT,
        "teacher": teacher,
        "month": month,
        "entries": sorted(entries, key=lambda one: int(one["entry"])),
        "not_logged": sorted(not_logged, key=lambda one: (one["date"], one["start"], one["service"])),
        "figures": sorted(figures, key=lambda one: int(one["service"])),
    }


@dataclass(frozen=True, slots=True)
class Difference:
    """One session, or one service's figure, that is otherwise than in what was signed or closed.

    `service` and `student` are ids, `date` is empty for figures; `before`, `now` are in words, empty for nothing.
    """

    service: int
    student: int
    date: str
    what: str
    before: str
    now: str
    entry: int | None = None


def differences(before: Content, now: Content, reasons: Mapping[str, str]) -> tuple[Difference, ...]:
    """Everything that differs: sessions first, by date, then figures by service.

    `reasons` are the district's words for its reasons, by code.
    """
    sessions = [*_entries_differ(before, now, reasons), *_waiting_differ(before, now)]
    sessions.sort(key=lambda one: (one.date, one.service))
    return (*sessions, *_figures_differ(before, now))


def without(content: Content, students: Collection[int]) -> Content:
    """A content without what it says of some students, such as those whose records were erased by schedule.

    It is compared by; its digest is of another content than the one that was signed.
    """
    parts = ("entries", "not_logged", "figures")
    kept = {part: [row for row in content[part] if row["student"] not in students] for part in parts}
    return {**content, **kept} if students else content


def sessions_of(content: Content, students: Collection[int]) -> int:
    """How many logged sessions a content has of some students."""
    return sum(row["student"] in students for row in content["entries"])


def is_same_log(before: Content, now: Content) -> bool:
    """Whether the sessions are the same; figures may follow from what was changed elsewhere."""
    return all(before[part] == now[part] for part in ("entries", "not_logged"))


def _entries_differ(before: Content, now: Content, reasons: Mapping[str, str]) -> list[Difference]:
    old, new = _by(before["entries"], "entry"), _by(now["entries"], "entry")
    return [
        Difference(
            one["service"],
            one["student"],
            one["date"],
            "session",
            _said(old.get(key), reasons),
            _said(new.get(key), reasons),
            key,
        )
        for key in sorted(old.keys() | new.keys())
        if old.get(key) != new.get(key)
        for one in (new.get(key) or old[key],)
    ]


def _waiting_differ(before: Content, now: Content) -> list[Difference]:
    old, new = _by(before["not_logged"], "session"), _by(now["not_logged"], "session")
    words = "planned, not logged"
    return [
        Difference(
            one["service"],
            one["student"],
            one["date"],
            "not logged",
            words if key in old else "",
            words if key in new else "",
        )
        for key in sorted(old.keys() ^ new.keys())
        for one in (new.get(key) or old[key],)
    ]


def _figures_differ(before: Content, now: Content) -> list[Difference]:
    old, new = _by(before["figures"], "service"), _by(now["figures"], "service")
    found = []
    for key in sorted(old.keys() | new.keys()):
        was, is_now = old.get(key), new.get(key)
        names = [name for name in FIGURES if (was or {}).get(name) != (is_now or {}).get(name)]
        if names:
            one = is_now or was or {}
            told = (_figures_words(was, names), _figures_words(is_now, names))
            found.append(Difference(key, one["student"], "", "figures at the end of the month", *told))
    return found


def _by(rows: Iterable[Mapping[str, Any]], name: str) -> dict[Any, Mapping[str, Any]]:
    return {row[name]: row for row in rows}


def _figures_words(row: Mapping[str, Any] | None, names: Iterable[str]) -> str:
    return ", ".join(f"{row[name]} {FIGURES[name]}" for name in names) if row is not None else ""


def _said(entry: Mapping[str, Any] | None, reasons: Mapping[str, str]) -> str:
    """What an entry says: minutes and reason of the version that counts, and how often it was decided on."""
    if entry is None:
        return ""
    last = entry["versions"][-1]
    if last["delivered"] is None:
        words = f"log taken back, {entry['planned']} planned"
    else:
        words = f"{last['delivered']} of {entry['planned']} minutes"
        words += f", {reasons.get(last['reason'], last['reason']).lower()}" if last["reason"] else ""
    if entry["decisions"]:
        words += f"; the team decided: {entry['decisions'][-1]['effect'].replace('_', ' ')}"
    return words
