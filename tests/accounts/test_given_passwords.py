"""Passwords that a coordinator or the server gives: one sign-in, seven days, and another one afterward.

That they work once, for seven days, and may not be kept is the project's own decision (no outside source).
"""

import datetime as dt
import re
from html import unescape
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import AuditEntry, Person
from accounts.people.services import (
    MUST_DIFFER,
    NO_SUCH_SIGN_IN,
    OLD_WRONG,
    given_password_use,
    own_password_choose,
    person_password_give,
)
from accounts.sign_in.forms import REFUSED
from tests.api import API
from tests.conftest import PASSWORD, Cast

FRESH = "a-password-of-ones-own"
WEEK = dt.timedelta(days=7)


def sign_in(username: str, password: str) -> tuple[Client, bool]:
    """A browser after the sign-in page, and whether it let the person in."""
    client = Client()
    client.post(reverse("sign_in"), {"username": username, "password": password})
    return client, "_auth_user_id" in client.session


def refusal(username: str, password: str) -> str:
    """What the sign-in page says, without what differs at each request."""
    page = Client().post(reverse("sign_in"), {"username": username, "password": password}).content.decode()
    page = page[page.index("<main") :]
    page = re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", page)
    return unescape(page.replace(f'value="{username}"', ""))


def choose(client: Client, old: str, new: str) -> str:
    """The page that changes the password, as it comes back."""
    values = {"old_password": old, "new_password1": new, "new_password2": new}
    return client.post(reverse("password_change"), values, follow=True).content.decode()


def pass_time(person: Person, time: dt.timedelta) -> None:
    """Let the given password be older by so much."""
    row = Person.objects.get(pk=person.pk)
    assert row.given_password_ends is not None
    Person.objects.filter(pk=person.pk).update(given_password_ends=row.given_password_ends - time)


def test_it_works_for_one_sign_in(cast: Cast) -> None:
    """The second is refused, also while the first one's session is open."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    assert sign_in("teacher", password)[1]
    assert not sign_in("teacher", password)[1]


def test_of_two_sign_ins_at_one_moment_one_gets_in(cast: Cast) -> None:
    """Both have read the row before either has written."""
    person_password_give(actor=cast.coordinator, row=cast.teacher)
    first, second = (Person.objects.get(pk=cast.teacher.pk) for _ in range(2))
    assert given_password_use(person=first)
    assert not given_password_use(person=second)


def test_it_ends_after_seven_days(cast: Cast) -> None:
    """A minute before it still works; a minute after it doesn't."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    pass_time(cast.teacher, WEEK - dt.timedelta(minutes=1))
    assert sign_in("teacher", password)[1]
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    pass_time(cast.teacher, WEEK + dt.timedelta(minutes=1))
    assert not sign_in("teacher", password)[1]


def test_the_session_that_began_with_it_ends_with_it(cast: Cast) -> None:
    """Also on the page that would change it, and in the API."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    client, _ = sign_in("teacher", password)
    assert client.get(reverse("password_change")).status_code == 200
    pass_time(cast.teacher, WEEK + dt.timedelta(minutes=1))
    assert client.get(reverse("password_change")).status_code == 302
    values = {"old_password": password, "new_password": FRESH}
    assert client.post(f"{API}/own-password/", values, content_type="application/json").status_code == 403
    assert Person.objects.get(pk=cast.teacher.pk).check_password(password)


def test_a_refusal_says_how_to_get_a_new_one_and_tells_a_guesser_nothing(cast: Cast) -> None:
    """Used up, ended, wrong, deactivated or nobody: word for word the same."""
    used = person_password_give(actor=cast.coordinator, row=cast.teacher)
    sign_in("teacher", used)
    ended = person_password_give(actor=cast.coordinator, row=cast.mate)
    pass_time(cast.mate, WEEK * 2)
    Person.objects.filter(pk=cast.office.pk).update(is_active=False)
    tries = [
        ("teacher", used),
        ("mate", ended),
        ("teacher", "not-the-password"),
        ("office", PASSWORD),
        ("nobody-here", used),
    ]
    said = {refusal(*one) for one in tries}
    assert len(said) == 1
    page = said.pop()
    assert REFUSED in page
    assert "ask your coordinator" in page


def test_used_up_ones_count_as_tries(cast: Cast) -> None:
    """Five shut the door for a while, as five wrong ones do."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    sign_in("teacher", password)
    values = {"username": "teacher", "password": password}
    assert [Client().post(reverse("sign_in"), values).status_code for _ in range(5)] == [200] * 4 + [429]


@pytest.mark.parametrize("change", [str, str.upper, lambda given: given.replace("-", " "), "{}-".format])
def test_it_cannot_be_kept(cast: Cast, change: type[str]) -> None:
    """Neither as it is nor with other capitals or hyphens."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    client, _ = sign_in("teacher", password)
    assert MUST_DIFFER in choose(client, password, change(password))
    assert client.get(reverse("building_list"))["Location"] == reverse("password_change")
    choose(client, password, FRESH)
    assert client.get(reverse("building_list")).status_code == 200


def test_an_own_password_lets_in_again_and_again(cast: Cast) -> None:
    """And has no end."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    client, _ = sign_in("teacher", password)
    choose(client, password, FRESH)
    row = Person.objects.get(pk=cast.teacher.pk)
    assert (row.given_password_ends, row.given_password_used) == (None, None)
    assert all(sign_in("teacher", FRESH)[1] for _ in range(3))


def test_the_api_chooses_too_and_keeps_the_session(cast: Cast) -> None:
    """With the same rules at its fields."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    client, _ = sign_in("teacher", password)

    def post(old: str, new: str) -> dict[str, list[str]]:
        values = {"old_password": old, "new_password": new}
        answer = client.post(f"{API}/own-password/", values, content_type="application/json")
        fields: dict[str, list[str]] = answer.json()["fields"] if answer.content else {}
        return fields

    assert client.get(f"{API}/students/").json()["code"] == "password_to_change"
    assert post("not-the-password", FRESH) == {"old_password": [OLD_WRONG]}
    assert post(password, password) == {"new_password": [MUST_DIFFER]}
    # Fewer than 10 characters (AUTH_PASSWORD_VALIDATORS).
    assert list(post(password, "short")) == ["new_password"]
    assert post(password, FRESH) == {}
    assert client.get(f"{API}/students/").status_code == 200
    assert AuditEntry.objects.filter(actor=cast.teacher, action="own_password_choose").count() == 1


def test_a_password_given_meanwhile_is_not_overwritten(cast: Cast) -> None:
    """The coordinator gave another, perhaps since the first one fell into wrong hands."""
    stolen = person_password_give(actor=cast.coordinator, row=cast.teacher)
    thief = Person.objects.get(pk=cast.teacher.pk)
    given = person_password_give(actor=cast.coordinator, row=cast.teacher)
    with pytest.raises(ValidationError) as refused:
        own_password_choose(actor=thief, old_password=stolen, new_password=FRESH)
    assert refused.value.message_dict == {"old_password": [OLD_WRONG]}
    assert sign_in("teacher", given)[1]


def test_the_coordinator_sees_what_became_of_it(cast: Cast) -> None:
    """Unused, used or ended; and until when it works where it is shown and in the API's answer."""
    client = Client()
    client.force_login(cast.coordinator)

    def people() -> str:
        return client.get(reverse("people")).content.decode()

    answer = client.post(f"{API}/people/{cast.teacher.pk}/password/").json()
    ends = dt.datetime.fromisoformat(answer["ends_at"])
    assert abs(ends - timezone.now() - WEEK) < dt.timedelta(minutes=5)
    assert "works once, until" in people()
    sign_in("teacher", answer["password"])
    assert "Signed in once with the password given to them" in people()
    pass_time(cast.teacher, WEEK * 2)
    assert "Give a new one" in people()


def test_the_server_gives_a_coordinator_a_new_one(cast: Cast) -> None:
    """Nobody in the district stands above the only coordinator."""
    out = StringIO()
    call_command("give_password", "Coordinator", stdout=out)
    password = re.search(r"^  (\S+)$", out.getvalue(), re.MULTILINE)
    assert password is not None
    assert [sign_in("coordinator", password[1])[1] for _ in range(2)] == [True, False]


@pytest.mark.parametrize("username", ["nobody-here", "office"])
def test_the_server_gives_none_to_nobody(cast: Cast, username: str) -> None:
    """A slip in the name, or somebody who was deactivated."""
    Person.objects.filter(pk=cast.office.pk).update(is_active=False)
    with pytest.raises(CommandError, match=NO_SUCH_SIGN_IN):
        call_command("give_password", username)
