"""The worker and what it takes along."""

import re
from pathlib import Path

from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.test import Client

from accounts.models import District, Person
from config.phone.shell import SCRIPTS


def test_the_worker_answers_for_the_whole_site(client: Client) -> None:
    """From the root, as a script, never from a cache, and to anyone: nobody's data are in it."""
    answer = client.get("/worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert "no-store" in answer["Cache-Control"]
    text = answer.content.decode()
    for name in SCRIPTS:
        assert static(name) in text


def test_a_static_file_has_an_address_of_its_content() -> None:
    """Another content, another address: a kept copy is never out of date. Twelve hex digits of SHA-256."""
    address = static("site.css")
    assert re.fullmatch(r"/static/site\.css\?v=[0-9a-f]{12}", address)
    assert address != static("site.js").replace("site.js", "site.css")
    assert static("there/is/none.css") == "/static/there/is/none.css"


def test_a_page_says_whose_it_is_by_a_key_that_only_the_server_makes(client: Client, db: None) -> None:
    """The same each time, different for two people, none without a session."""
    district = District.objects.create(name="Bent Elm", time_zone="America/Chicago", state="IA")
    keys = []
    for name in ("one", "two", "one"):
        person, _ = Person.objects.get_or_create(username=name, district=district)
        client.force_login(person)
        found = re.search(r'<meta name="person" content="([^"]+)">', client.get("/calendar/").content.decode())
        assert found
        keys.append(found[1])
    assert keys[0] == keys[2] != keys[1]
    client.logout()
    assert b'name="person"' not in client.get("/sign-in/").content


def test_vendored_scripts_come_with_their_license() -> None:
    """idb is ISC."""
    found = finders.find("vendor/idb.LICENSE.txt")
    assert found
    assert "ISC License" in Path(found).read_text(encoding="utf-8")
