"""The worker and what it takes along."""

import html
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.test import Client

from accounts.models import District, Person
from accounts.sign_in.phone_key import phone_key
from config.phone.kept import kept_days
from config.phone.shell import SCRIPTS, SHELL
from tests.browser.offline_day import GOAL, OTHER, WRITTEN, make_offline_day
from tests.browser.today import DRIVER


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


def test_everything_that_the_worker_takes_along_is_there(client: Client) -> None:
    """One missing file, and the browser would refuse the whole worker."""
    for name in SHELL:
        assert finders.find(name), name
    for address in ("/phone/no-signal/", "/phone/locked/"):
        answer = client.get(address)
        assert answer.status_code == 200
        assert b'name="person"' not in answer.content


@pytest.fixture
def driver(db: None) -> Person:
    """A teacher with two sessions today; one student with supports and a contact, one with a caution and a goal."""
    make_offline_day()
    return Person.objects.get(username=DRIVER)


def kept(client: Client, how: str) -> dict[str, str]:
    """Every page that a phone would keep, by its address, as it would be kept."""
    headers = {"Kept-Page": how}
    told = client.get("/phone/list/", headers=headers).json()
    found = {}
    for address in [one for day in told["days"] for one in day["addresses"]]:
        answer = client.get(address, headers=headers)
        assert answer.status_code == 200, address
        assert "Kept-Page" in answer["Vary"]
        found[address] = html.unescape(answer.content.decode())
    return found


def test_a_page_that_lies_readable_on_a_phone_tells_initials_and_nothing_more(
    client: Client, driver: Person
) -> None:
    """No name, support, caution, contact or goal on any of them, whatever the header's value."""
    client.force_login(driver)
    for how in ("initials", "Names", "x"):
        pages = kept(client, how)
        assert any("/run/" in address for address in pages)
        assert any(address.startswith("/data/take/") for address in pages)
        assert any(address.startswith("/log/session/") for address in pages)
        for address, text in pages.items():
            for secret in ("Ola", "Tarn", *WRITTEN):
                assert secret not in text, (address, secret)
        assert any("O.T. D0" in text for text in pages.values())


def test_an_encrypted_page_tells_everything_and_students_come_along(client: Client, driver: Person) -> None:
    """With contacts, as on the student's own page."""
    client.force_login(driver)
    text = " ".join(kept(client, "names").values())
    for told in ("Ola", *WRITTEN):
        assert told in text


def test_what_is_told_is_less_for_that_one_request_alone(client: Client, driver: Person) -> None:
    """The next page has names again, for the same session."""
    client.force_login(driver)
    assert "Ola Tarn" not in client.get("/day/", headers={"Kept-Page": "initials"}).content.decode()
    assert "Ola" in client.get("/day/").content.decode()


def test_a_goal_is_called_by_its_number_where_its_words_may_not_stand(client: Client, driver: Person) -> None:
    """Data can be taken all the same: the form has the goal's id."""
    client.force_login(driver)
    pages = kept(client, "initials")
    taking = next(text for address, text in pages.items() if address.startswith("/data/take/"))
    assert "Goal 1" in taking
    assert 'name="goal"' in taking
    assert GOAL not in taking


def test_only_who_drives_a_day_keeps_days(client: Client, driver: Person) -> None:
    """A teacher without a week keeps today's sheet; a coordinator drives nobody's day."""
    other = Person.objects.get(username=OTHER)
    assert [len(one.addresses) for one in kept_days(other, encrypted=True)] == [1]
    other.role = Person.Role.COORDINATOR
    other.save()
    assert kept_days(other, encrypted=True) == ()


def test_a_phone_is_told_that_its_account_was_stopped(client: Client, driver: Person) -> None:
    """By its key alone, since its sign-in has ended with it; a made-up key says nothing."""

    def stopped(key: str) -> bool:
        answer = client.post("/phone/standing/", {"person": key})
        assert answer.status_code == 200
        return bool(answer.json()["stopped"])

    assert not stopped(phone_key(driver))
    driver.is_active = False
    driver.save()
    assert stopped(phone_key(driver))
    assert not stopped(f"{driver.pk}:made-up")
    assert not stopped("")


def test_the_browser_itself_stores_no_page_of_a_person(client: Client, driver: Person) -> None:
    """OWASP ASVS 5.0, 14.3.2: pages with sensitive data carry Cache-Control: no-store. Others may be stored."""
    assert "no-store" not in client.get("/phone/no-signal/").get("Cache-Control", "")
    client.force_login(driver)
    for address in ("/day/", "/students/", "/api/1/students/"):
        assert client.get(address)["Cache-Control"] == "no-store"


def test_the_worker_takes_along_every_file_of_every_kept_page(client: Client, driver: Person) -> None:
    """The first visit is before the worker's time: what it doesn't bring itself would be missing without signal."""
    client.force_login(driver)
    used = re.compile(r'<(?:script src|link rel="stylesheet" href)="/static/([^"?]+)')
    pages = kept(client, "names")
    assert {name for text in pages.values() for name in used.findall(text)} - set(SHELL) == set()
