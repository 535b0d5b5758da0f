"""The text of an iCalendar file as programs really write it, put right as far as that is certain.

Bytes become text line by line, what is not closed is closed and marked, times without a zone get the one that the
calendar names for itself. Whatever is done is said. Pure.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

# Marks an event whose end is missing; the name is of no property that programs write.
UNFINISHED = "X-MM-UNFINISHED"
_FOLD = re.compile(rb"\r?\n[ \t]")
_PART = re.compile(r"(BEGIN|END):\s*([A-Z0-9-]+)\s*", re.IGNORECASE)
_OWN_ZONE = re.compile(r"X-WR-TIMEZONE[^:]*:(.*)", re.IGNORECASE)
_BARE = re.compile(
    r"(DTSTART|DTEND|RECURRENCE-ID|EXDATE|RDATE)((?:;(?!TZID=)[^:;]+)*):(\d{8}T\d{6}(?:,\d{8}T\d{6})*)\s*",
    re.IGNORECASE,
)
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(slots=True)
class MendedText:
    """The text with what is to be said of it.

    `is_cut`: it ends before it is at its end. `begun`: how many events it begins, `whole` how many it also ends.
    """

    text: str
    notes: list[str] = field(default_factory=list)
    is_cut: bool = False
    begun: int = 0
    whole: int = 0


def text_of(content: bytes) -> MendedText:
    """Bytes as lines of text.

    Folds go first: one may stand inside a character (RFC 5545 section 3.1). A line that isn't UTF-8, as section
    3.1.4 asks, is read as Windows-1252, which holds Latin-1's letters.
    """
    if content.startswith(_UTF_16):
        return MendedText(content.decode("utf-16", errors="replace"), ["The file is written in UTF-16, not UTF-8."])
    if b"\n" not in content:
        content = content.replace(b"\r", b"\n")  # as programs of long ago ended lines
    foreign = 0
    lines = []
    for line in _FOLD.sub(b"", content).removeprefix(b"\xef\xbb\xbf").splitlines():
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            foreign += 1
            lines.append(line.decode("cp1252", errors="replace"))
    mended = MendedText("\r\n".join(lines) + "\r\n")
    if foreign:
        mended.notes.append(
            f"{foreign} {'lines are' if foreign > 1 else 'line is'} not written in UTF-8 and "
            f"{'were' if foreign > 1 else 'was'} read as Western European; check letters with accents."
        )
    return mended


def mend(read: MendedText) -> MendedText:
    """The text with its parts closed and its times in the zone that it names for itself."""
    closing = _Closing()
    lines = _with_zone(read.text.split("\r\n"), read.notes)
    closed = [one for line in lines for one in closing.line(line)]
    is_cut = bool(closing.open)
    closed = [*filter(None, closed), *closing.close_all()]
    whole = closing.begun - closing.unfinished
    if is_cut:
        read.notes.append(
            f"The file breaks off: {whole} of {closing.begun} events that it begins could be read, and what would "
            "follow is missing. Download it again."
        )
    elif closing.unfinished:
        read.notes.append(
            f"{whole} of {closing.begun} events that the file begins could be read; the others have no end."
        )
    return MendedText("\r\n".join(closed) + "\r\n", read.notes, is_cut, closing.begun, whole)


class _Closing:
    """Which parts are open; an event that another part begins or ends around is closed and marked."""

    def __init__(self) -> None:
        self.open: list[str] = []
        self.begun = 0
        self.unfinished = 0

    def line(self, line: str) -> list[str]:
        """The line with what has to stand before it, or nothing for an end of what isn't open."""
        part = _PART.fullmatch(line)
        if part is None:
            return [line]
        name = part[2].upper()
        if part[1].upper() == "BEGIN":
            return self._begin(name, line)
        if name not in self.open:
            return [line] if not self.open else []
        before = self._close_down_to(name)
        self.open.pop()
        return [*before, line]

    def close_all(self) -> list[str]:
        """The ends of all that is open."""
        return self._close_down_to("")

    def _begin(self, name: str, line: str) -> list[str]:
        before: list[str] = []
        if name in {"VEVENT", "VCALENDAR"} and "VEVENT" in self.open:
            before = self._close_down_to("VCALENDAR")
        self.begun += name == "VEVENT"
        self.open.append(name)
        return [*before, line]

    def _close_down_to(self, name: str) -> list[str]:
        ends: list[str] = []
        while self.open and self.open[-1] != name:
            last = self.open.pop()
            if last == "VEVENT":
                self.unfinished += 1
                ends.append(f"{UNFINISHED}:TRUE")
            ends.append(f"END:{last}")
        return ends


def _with_zone(lines: list[str], notes: list[str]) -> list[str]:
    """Times without a zone in the calendar's own (X-WR-TIMEZONE: no standard has it, many programs write it)."""
    named = next((found[1].strip() for line in lines if (found := _OWN_ZONE.fullmatch(line))), "")
    bare = set(_without_zone(lines)) if named else set()
    if not bare:
        return lines
    try:
        ZoneInfo(named)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        notes.append("X-WR-TIMEZONE of the calendar names an unknown zone; times without one are read as local.")
        return lines
    return [_BARE.sub(rf"\1\2;TZID={named}:\3", line) if at in bare else line for at, line in enumerate(lines)]


def _without_zone(lines: list[str]) -> Iterator[int]:
    """Where times without a zone stand; those of a zone's own changes have none by their nature."""
    inside = False
    for at, line in enumerate(lines):
        part = _PART.fullmatch(line)
        if part is not None and part[2].upper() == "VTIMEZONE":
            inside = part[1].upper() == "BEGIN"
        elif not inside and _BARE.fullmatch(line):
            yield at
