"""Every form and every address of the pages, as a person in a role finds them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, is_valid_path, resolve, reverse

from tests.config.permission_table import PAGES, Row
from tests.config.things import Things

NUMBER = re.compile(r"\d+")
PART = re.compile(r"<(?:\w+:)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Field:
    """One name with what a page sends for it; `kind` is the input's type, such as date or select."""

    name: str
    value: str
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Target:
    """One way to ask something: an address with the fields that a page would send."""

    route: str
    method: str
    path: str
    fields: tuple[Field, ...] = ()
    files: tuple[str, ...] = ()

    @property
    def shape(self) -> tuple[Any, ...]:
        """Targets of one shape differ by what is filled in only."""
        return self.route, self.method, tuple(sorted({one.name for one in self.fields})), self.files


@dataclass(slots=True)
class Form:
    """A form of a page while it is read."""

    method: str
    action: str
    fields: dict[str, Field] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)


# What an empty field is filled with, so that one bad value doesn't hide behind what is missing.
PLAUSIBLE = {"date": "2026-09-14", "number": "1", "text": "Word", "textarea": "Word", "month": "2026-09"}


class FormReader(HTMLParser):
    """Forms with what is filled in, and the addresses of links."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[str] = []
        self._open: Form | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what can be sent."""
        found = {name: value or "" for name, value in attrs}
        self.links += [found[name] for name in ("href", "hx-get") if name in found and tag != "link"]
        if tag == "form":
            self._open = Form(found.get("method", "get").lower(), found.get("action", ""))
            self.forms.append(self._open)
        elif self._open is not None and tag == "option":
            self._option(found, self._open)
        elif self._open is not None and "name" in found:
            self._field(tag, found, self._open)

    def _field(self, tag: str, found: dict[str, str], form: Form) -> None:
        name, kind = found["name"], tag if tag in {"select", "textarea"} else found.get("type", "text")
        if kind == "file":
            form.files.append(name)
        elif name not in form.fields or "checked" in found or kind == "submit":
            form.fields[name] = Field(name, found.get("value", "") or _plausible(name, kind), kind)
        self._select = name if tag == "select" else ""

    def _option(self, found: dict[str, str], form: Form) -> None:
        kept, value = form.fields.get(self._select), found.get("value", "")
        if kept is not None and value and (not kept.value or "selected" in found):
            form.fields[self._select] = Field(self._select, value, "select")

    def handle_endtag(self, tag: str) -> None:
        """Close what was open."""
        if tag == "form":
            self._open = None


def _plausible(name: str, kind: str) -> str:
    if kind == "time":
        return "9:30" if "end" in name else "9:00"
    return PLAUSIBLE.get(kind, "")


def one_of_each(fields: tuple[Field, ...]) -> list[Field]:
    """Of fields that differ by a number in their name (rows of a table) only one."""
    return list({NUMBER.sub("", one.name): one for one in reversed(fields)}.values())


def routes() -> dict[str, str]:
    """Each route's address, with its parts as ``<converter:name>``."""
    return dict(_routes(get_resolver().url_patterns, "/", ""))


def _routes(patterns: list[URLPattern | URLResolver], before: str, space: str) -> Iterator[tuple[str, str]]:
    for one in patterns:
        address = before + str(one.pattern)
        if isinstance(one, URLPattern):
            yield f"{space}{one.name}", address
        else:
            yield from _routes(one.url_patterns, address, f"{one.namespace}:" if one.namespace else space)


def parts_of(template: str) -> list[str]:
    """The names in an address."""
    return PART.findall(template)


def filled(template: str, values: dict[str, str]) -> str:
    """The address with its parts filled in, whatever they are."""
    return PART.sub(lambda part: values[part[1]], template)


def address_values(row: Row, things: Things) -> dict[str, str]:
    """The parts of a route's address by the permission table."""
    return {part: str(things.value(thing)) for part, thing in row.at.items()}


def find_targets(client: Client, letter: str, things: Things) -> dict[str, list[Target]]:
    """By route: what the pages that this role may open let it send, one of each shape."""
    found: dict[tuple[Any, ...], Target] = {}
    for name, row in PAGES.items():
        for target in (*_of_table(name, row, letter, things), *_of_page(client, name, row, letter, things)):
            found.setdefault(target.shape, target)
    by_route: dict[str, list[Target]] = {}
    for target in found.values():
        by_route.setdefault(target.route, []).append(target)
    return by_route


def _of_table(name: str, row: Row, letter: str, things: Things) -> Iterator[Target]:
    path = reverse(name, kwargs=address_values(row, things))
    for method, named in (("get", row.query), ("post", row.body)):
        if letter in (getattr(row, method) or ""):
            fields = tuple(Field(key, str(things.value(value))) for key, value in named.items())
            yield Target(name, method, path, fields)


def _of_page(client: Client, name: str, row: Row, letter: str, things: Things) -> Iterator[Target]:
    if letter not in (row.get or ""):
        return
    path = reverse(name, kwargs=address_values(row, things))
    answer = client.get(path, {key: things.value(value) for key, value in row.query.items()})
    if not str(answer.headers.get("Content-Type", "")).startswith("text/html"):
        return
    reader = FormReader()
    reader.feed(answer.content.decode())
    for form in reader.forms:
        yield from _target(form.method, form.action, path, tuple(form.fields.values()), tuple(form.files))
    for link in reader.links:
        if "?" in link:
            yield from _target("get", link, path)


def _target(
    method: str,
    action: str,
    path: str,
    fields: tuple[Field, ...] = (),
    files: tuple[str, ...] = (),
) -> Iterator[Target]:
    """A form's or a link's target, if it is one of ours."""
    split = urlsplit(action)
    at = split.path or path
    if split.scheme or split.netloc or not is_valid_path(at):
        return
    route = resolve(at).view_name
    if route in PAGES:
        asked = tuple(Field(name, value) for name, value in parse_qsl(split.query, keep_blank_values=True))
        yield Target(route, method, at, asked + fields, files)
