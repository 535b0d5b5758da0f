"""The manual as it is served: every place that it names is there, and every word of the program that it shows."""

import ast
import html
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from accounts.templatetags.site import NAVIGATION, SETTING_UP
from config.manual.chapters import FOLDER, NAMES, chapter_text, chapters, whole
from tests.config.permission_table import PAGES
from tests.config.things import Things, make_things

ROOT = Path(__file__).resolve().parents[3]
FLOORS = ("accounts", "caseload", "config", "schedule", "travel")
PAGE_LINK = re.compile(r"\[([^\]]+)\]\(page:(\w+)\)")
BOLD = re.compile(r"\*\*(.+?)\*\*")
HEADING = re.compile(r"<(?:h1|title|h2)[^>]*>(.*?)</(?:h1|title|h2)>", re.DOTALL)


@pytest.fixture
def things(db: None) -> Things:
    return make_things()


def test_every_chapter_stands_in_the_contents_and_every_file_is_a_chapter() -> None:
    assert {f"{name}.md" for name in NAMES} == {path.name for path in FOLDER.iterdir()}
    assert len(set(NAMES)) == len(NAMES)


def test_anyone_may_read_it(client: Client, things: Things) -> None:
    """Signed out and with every role: the contents, each chapter and all of them on one page."""
    cast = things.cast
    for person in (None, cast.teacher, cast.coordinator, cast.office, cast.substitute):
        if person is not None:
            client.force_login(person)
        shown = client.get(reverse("manual")).content.decode()
        for one in chapters():
            assert html.escape(one.title) in shown
            answer = client.get(reverse("manual_chapter", args=[one.name]))
            assert answer.status_code == 200
            assert one.html in answer.content.decode()
    assert client.get(reverse("manual_chapter", args=["nothing-of-this-name"])).status_code == 404


def test_on_one_page_there_is_every_chapter_and_no_anchor_twice(client: Client) -> None:
    text = client.get(reverse("manual_whole")).content.decode()
    anchors = re.findall(r' id="([^"]+)"', text)
    assert len(set(anchors)) == len(anchors)
    assert set(NAMES) <= set(anchors)
    inside = {link for one in whole() for link in re.findall(r'href="#([^"]+)"', one.html)}
    assert inside
    assert inside <= set(anchors)


def test_links_between_chapters_lead_to_sections_that_are_there() -> None:
    places = {
        f"{reverse('manual_chapter', args=[one.name])}#{part.anchor}" for one in chapters() for part in one.sections
    }
    places |= {reverse("manual_chapter", args=[name]) for name in NAMES}
    linked = {link for one in chapters() for link in re.findall(r'href="(/manual/[^"]*)"', one.html)}
    assert linked
    assert linked <= places


def page_links() -> list[tuple[str, str]]:
    """Words and page of every link to a page."""
    return sorted({(words, name) for chapter in NAMES for words, name in PAGE_LINK.findall(chapter_text(chapter))})


def test_a_page_that_the_manual_names_is_called_so(things: Things) -> None:
    """By its heading, its title or the menu, for whoever may open it."""
    in_menu = {(label, name) for name, label, _ in (*NAVIGATION, *SETTING_UP)}
    wrong = []
    for words, name in page_links():
        row = PAGES[name]
        assert not row.at, name
        client = Client()
        client.force_login(things.cast.teacher if row.get and "T" in row.get else things.cast.coordinator)
        answer = client.get(reverse(name), follow=True)
        assert answer.status_code == 200, name
        found = [html.unescape(one).strip() for one in HEADING.findall(answer.content.decode())]
        if (words, name) not in in_menu and not any(one == words or one.startswith(f"{words} –") for one in found):  # noqa: RUF001
            wrong.append((words, name, found[:2]))
    assert wrong == []


def said() -> Iterator[str]:
    """What the program's pages say: texts between the tags of templates, and strings of modules."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", *FLOORS],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    for name in listed:
        path = ROOT / name
        if name.endswith(".html") and "templates/manual" not in name:
            text = re.sub(
                r'<span class="visually-hidden">.*?</span>|{#.*?#}', "", path.read_text(), flags=re.DOTALL
            )
            yield from re.split(r"<[^>]*>", re.sub(r"{%.*?%}", "", text))
            yield from re.findall(r'label="([^"]+)"', text)
            yield from ",".join(re.findall(r'yesno:"([^"]+)"', text)).split(",")
            yield from re.findall(r"%}([^{}<>]+){%", text)
        elif name.endswith(".py") and "config/manual" not in name and "/migrations/" not in name:
            tree = ast.walk(ast.parse(path.read_text()))
            yield from (one.value for one in tree if isinstance(one, ast.Constant) and isinstance(one.value, str))


def test_words_in_bold_are_the_programs_own() -> None:
    """Each begins something that a page says; where it has a gap (…) both of its sides are there."""
    texts = {" ".join(html.unescape(one).split()) for one in said()}
    wanted = {bold for name in NAMES for bold in BOLD.findall(chapter_text(name))}
    assert len(wanted) > 100

    def known(words: str) -> bool:
        return any(re.match(rf"{re.escape(words)}(?!\w)", one) for one in texts)

    assert {bold for bold in wanted if not all(known(part.strip()) for part in bold.split("…"))} == set()
    assert not known("Plan the rest of my life")
