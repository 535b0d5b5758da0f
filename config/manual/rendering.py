"""A chapter of the manual from its Markdown: headings with anchors, links to pages and chapters.

What stands between angle brackets in the source is shown as it is: the text comes out escaped.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from markdown_it import MarkdownIt
from markdown_it.token import Token

PAGE = "page:"
"""A link `[Log](page:log)` leads to the page whose address has that name."""
OF_CHAPTER = re.compile(r"(?P<name>[a-z-]+)\.md(?:#(?P<section>[a-z0-9-]+))?")
"""A link `[Mileage](mileage.md#rates)` leads to another chapter, or to a section of it."""


@dataclass(frozen=True, slots=True)
class Section:
    """A second-level heading with the anchor by which it is reached."""

    anchor: str
    title: str


@dataclass(frozen=True, slots=True)
class Chapter:
    """One chapter: `html` is what follows its title."""

    name: str
    title: str
    html: str
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class Addresses:
    """How addresses are made: of a page by its name, of a chapter by its name and section (empty: its beginning).

    `whole`: all chapters are on one page, headings a level lower, and an anchor begins with its chapter's name.
    """

    page: Callable[[str], str]
    chapter: Callable[[str, str], str]
    whole: bool = False


def anchor_of(title: str) -> str:
    """The anchor of a heading: its words in small letters, joined by hyphens.

    >>> anchor_of("What isn't sent yet")
    'what-isnt-sent-yet'
    """
    return "-".join(re.findall(r"[a-z0-9]+", re.sub("['\u2019]", "", title.lower())))


def chapter_from(name: str, text: str, addresses: Addresses) -> Chapter:
    """Render a chapter whose first line is its title (`# …`).

    Raises ``ValueError`` if it has no title, or links to what is neither page, chapter, anchor nor web address.
    """
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(text)
    if [one.type for one in tokens[:3]] != ["heading_open", "inline", "heading_close"] or tokens[0].tag != "h1":
        raise ValueError(f"The chapter {name} has no title in its first line.")
    title, rest = _words(tokens[1]), tokens[3:]
    sections = tuple(_sections(rest))
    for link in _links(rest):
        link.attrSet("href", _address(str(link.attrGet("href")), name, addresses))
    for one in rest:
        if one.type == "table_open":
            one.attrSet("class", "table")
        if addresses.whole:
            _put_lower(one, name)
    html = str(reader.renderer.render(rest, reader.options, {}))
    return Chapter(name, title, html, sections)


def _words(inline: Token) -> str:
    """What a reader sees of it, without its marks."""
    return "".join(one.content for one in inline.children or () if one.type in {"text", "code_inline"})


def _sections(tokens: list[Token]) -> Iterator[Section]:
    """Each heading below the title gets its anchor; those of the second level are the sections."""
    for opening, inline in pairwise(tokens):
        if opening.type == "heading_open":
            title = _words(inline)
            opening.attrSet("id", anchor_of(title))
            if opening.tag == "h2":
                yield Section(anchor_of(title), title)


def _put_lower(token: Token, chapter: str) -> None:
    """A heading of one chapter among all of them."""
    if token.type in {"heading_open", "heading_close"}:
        token.tag = f"h{int(token.tag[1:]) + 1}"
    if anchor := token.attrGet("id"):
        token.attrSet("id", f"{chapter}-{anchor}")


def _links(tokens: list[Token]) -> Iterator[Token]:
    for token in tokens:
        yield from (one for one in token.children or () if one.type == "link_open")


def _address(written: str, chapter: str, addresses: Addresses) -> str:
    if written.startswith(PAGE):
        return addresses.page(written.removeprefix(PAGE))
    if written.startswith("#"):
        return addresses.chapter(chapter, written[1:])
    if found := OF_CHAPTER.fullmatch(written):
        return addresses.chapter(found["name"], found["section"] or "")
    if written.startswith("https://"):
        return written
    raise ValueError(f"The chapter {chapter} links to {written}, which is no page, chapter or web address.")
