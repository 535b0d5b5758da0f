"""Help is one tap away on each page, in five lines at most, and leads to a section of the manual that is there."""

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from config.manual.chapters import chapters
from config.manual.help import HELP, help_of, key_of
from config.manual.lines.asking import MOST_LINES
from tests.config.permission_table import PAGES
from tests.config.things import Things, make_things

NO_PAGES = {
    "health", "ready", "metrics", "worker", "phone_list", "road_tile", "import_template", "import_export",
    "import_problems", "station_picture", "voucher_file", "feed_ics", "feed_file",
}  # fmt: skip
"""Addresses that answer with something other than a page: a word, a script, a picture, a file."""
LONGEST = 110
"""Characters of a line. Ours, no source: at most three lines of a phone's width."""


@pytest.fixture
def things(db: None) -> Things:
    return make_things()


def test_every_page_has_its_help() -> None:
    """A new page without a line in the table fails here."""
    assert [
        name for name, row in PAGES.items() if row.get is not None and name not in NO_PAGES and not key_of(name)
    ] == []


def test_every_line_of_the_table_is_some_pages() -> None:
    assert set(HELP) - {key_of(name) for name in PAGES} == {"error"}


def test_help_is_short() -> None:
    """With the way to the manual five lines at most."""
    assert MOST_LINES == 4
    for key, one in HELP.items():
        assert 1 < len(one.lines) <= MOST_LINES, key
        assert [line for line in one.lines if len(line) > LONGEST or line[-1] not in ".?!"] == [], key


def test_help_leads_to_a_section_that_is_there() -> None:
    places = {(one.name, part.anchor) for one in chapters() for part in one.sections}
    places |= {(one.name, "") for one in chapters()}
    assert {key for key, one in HELP.items() if (one.chapter, one.section) not in places} == set()


def test_the_longest_beginning_counts_and_a_name_of_its_own_before_it() -> None:
    assert key_of("goal_rules_new") == "goal_rules_"
    assert key_of("goal_new") == "goal_"
    assert key_of("goal_detail") == "goal_detail"
    assert key_of("nothing_of_this_name") is None


def test_help_stands_on_every_page_and_opens_without_a_script(things: Things) -> None:
    """Each page that somebody may open, as they get it: a button of the header opens the lines (HTML popover)."""
    cast = things.cast
    people = {"T": cast.teacher, "C": cast.coordinator, "O": cast.office, "S": cast.substitute}
    clients = {letter: Client() for letter in people}
    for letter, client in clients.items():
        client.force_login(people[letter])
    seen, wrong = 0, []
    for name, row in PAGES.items():
        letter = next((one for one in "TCOS" if one in (row.get or "")), "")
        if not letter or name in NO_PAGES:
            continue
        path = reverse(name, kwargs={part: things.value(thing) for part, thing in row.at.items()})
        query = {key: things.value(value) for key, value in row.query.items()}
        answer = clients[letter].get(path, query, follow=True)
        if answer.redirect_chain or answer.status_code != 200:
            continue
        text = html.unescape(answer.content.decode())
        told, seen = help_of(name), seen + 1
        assert told is not None
        button = re.search(r'<button class="help-button[^>]*popovertarget="help"[^>]*>(.*?)</button>', text)
        opened = re.search(r'<section class="help" id="help" popover[^>]*>(.*?)</section>', text, re.DOTALL)
        if not button or "Help" not in button[1] or not opened:
            wrong.append((name, answer.status_code, "no help"))
        elif not all(line in opened[1] for line in told.lines) or "/manual/" not in opened[1]:
            wrong.append((name, answer.status_code, "other help"))
    assert wrong == []
    assert seen > 150


def test_a_page_of_an_error_has_help_of_its_own(client: Client, things: Things) -> None:
    client.force_login(things.cast.teacher)
    text = html.unescape(client.get("/nothing/of/this/address/").content.decode())
    assert HELP["error"].lines[0] in text
