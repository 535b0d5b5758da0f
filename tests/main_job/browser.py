"""A person's browser in a few lines of the standard library: cookies, pages, and forms sent as they stand."""

import http.cookiejar
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

ANSWER_SECONDS = 60


@dataclass
class Form:
    """A form as it stands on a page."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)


class _Forms(HTMLParser):
    """Collects forms with what a browser would send for each if nothing were changed."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a form, or note a field of the one that is open."""
        told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append(Form(told.get("action", ""), told.get("method", "get").lower()))
        elif tag == "input":
            self._note_input(told)
        elif tag == "select":
            self._select = told.get("name", "")
        elif tag == "option":
            self._note_option(told)

    def _note_input(self, told: dict[str, str]) -> None:
        """Boxes count if they are ticked, everything else as it stands."""
        box = told.get("type") in {"checkbox", "radio"}
        if self.forms and told.get("name") and (not box or "checked" in told):
            self.forms[-1].fields[told["name"]] = told.get("value", "on" if box else "")

    def _note_option(self, told: dict[str, str]) -> None:
        """The selected one, or the first."""
        if self.forms and self._select and ("selected" in told or self._select not in self.forms[-1].fields):
            self.forms[-1].fields[self._select] = told.get("value", "")


@dataclass(frozen=True)
class Page:
    """An answer: its status, the address that it came from in the end, and its text."""

    status: int
    path: str
    text: str

    def forms(self) -> Iterator[Form]:
        """The forms of the page that are sent by POST."""
        found = _Forms()
        found.feed(self.text)
        return (form for form in found.forms if form.method == "post")


class Browser:
    """Somebody at a site."""

    def __init__(self, address: str) -> None:
        self.address = address
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self._opener = urllib.request.build_opener(cookies)

    def get(self, path: str) -> Page:
        """Open an address of the site."""
        return self._open(urllib.request.Request(urllib.parse.urljoin(self.address, path)))  # noqa: S310 -- our own

    def send(self, page: Page, form: Form, **values: str) -> Page:
        """Send a form of a page with other values in some of its fields."""
        here = urllib.parse.urljoin(self.address, page.path)
        target = urllib.parse.urljoin(here, form.action) if form.action else here
        body = urllib.parse.urlencode({**form.fields, **values}).encode()
        return self._open(urllib.request.Request(target, body, headers={"Referer": here}))  # noqa: S310 -- our own

    def answers(self, path: str) -> bool:
        """Whether anything answers there, and well."""
        try:
            return self.get(path).status == 200
        except OSError:
            return False

    def _open(self, request: urllib.request.Request) -> Page:
        try:
            with self._opener.open(request, timeout=ANSWER_SECONDS) as answer:
                return Page(answer.status, _path(answer.geturl()), answer.read().decode())
        except urllib.error.HTTPError as error:
            with error:
                return Page(error.code, _path(error.geturl()), error.read().decode(errors="replace"))


def _path(address: str) -> str:
    parts = urllib.parse.urlsplit(address)
    return urllib.parse.urlunsplit(("", "", parts.path, parts.query, ""))
