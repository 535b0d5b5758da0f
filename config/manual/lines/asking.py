"""What the help of one page holds."""

from dataclasses import dataclass

MOST_LINES = 4
"""With the way to the manual there are five."""


@dataclass(frozen=True, slots=True)
class PageHelp:
    """At most four lines: what the page is for, what one does there, what it doesn't do. Then where more stands."""

    lines: tuple[str, ...]
    chapter: str
    section: str = ""


def says(*lines: str, at: str) -> PageHelp:
    """The help with these lines and with its place in the manual (`chapter#section`)."""
    chapter, _, section = at.partition("#")
    return PageHelp(lines, chapter, section)
