"""People: who may add them, passwords that are given, deactivation, a district of one's own."""

import re
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person
from accounts.people.services import (
    NAME_TAKEN,
    ROLE_STAYS,
    person_active_set,
    person_password_give,
    person_save,
)
from tests.api import API, Api
from tests.conftest import PASSWORD, Cast

FRESH = "a-password-of-ones-own"


def values(**more: Any) -> dict[str, Any]:
    """A person who isn't there yet."""
    return {"username": "pwren", "first_name": "Petra", "last_name": "Wren", "role": "teacher", **more}


def sign_in(username: str, password: str) -> tuple[Client, int]:
    """A browser after the sign-in page, and what the page answered."""
    client = Client()
    answer = client.post(reverse("sign_in"), {"username": username, "password": password})
    return client, answer.status_code


def test_only_a_coordinator_adds_people(cast: Cast) -> None:
    """A teacher, an office and a substitute are refused; nothing is saved."""
    for actor in (cast.teacher, cast.office, cast.substitute):
        with pytest.raises(ApplicationError) as refused:
            person_save(actor=actor, row=Person(), values=values())
        assert refused.value.status == 403
    assert not Person.objects.filter(username="pwren").exists()


def test_a_new_person_belongs_to_the_coordinators_district(cast: Cast) -> None:
    """And can't sign in before a password was given."""
    person = person_save(actor=cast.coordinator, row=Person(), values=values())
    assert person.district == cast.district
    assert not person.has_usable_password()


def test_a_name_is_taken_in_any_writing(cast: Cast) -> None:
    """Teacher and teacher would be mixed up at the door."""
    with pytest.raises(ValidationError) as refused:
        person_save(actor=cast.coordinator, row=Person(), values=values(username="Teacher"))
    assert refused.value.message_dict == {"username": [NAME_TAKEN]}


def test_a_given_password_opens_only_the_page_that_changes_it(cast: Cast) -> None:
    """Pages lead there and the API refuses, until the person has chosen another."""
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    client, _ = sign_in("teacher", password)
    assert client.get(reverse("student_list"))["Location"] == reverse("password_change")
    assert client.get(f"{API}/students/").json()["code"] == "password_to_change"
    client.post(
        reverse("password_change"), {"old_password": password, "new_password1": FRESH, "new_password2": FRESH}
    )
    assert client.get(reverse("student_list")).status_code == 200
    assert sign_in("teacher", password)[1] == 200, "the given password must not work anymore"


def test_a_new_password_ends_sessions_and_lifts_the_lockout(cast: Cast) -> None:
    """Somebody who forgot it has usually tried five times."""
    inside, _ = sign_in("teacher", PASSWORD)
    assert [sign_in("teacher", "not-the-password")[1] for _ in range(5)][-1] == 429
    password = person_password_give(actor=cast.coordinator, row=cast.teacher)
    assert inside.get(reverse("student_list")).status_code == 302
    assert sign_in("teacher", password)[1] == 302


def test_the_password_stands_in_no_audit_entry(cast: Cast) -> None:
    """Neither the password nor its hash."""
    person = person_save(actor=cast.coordinator, row=Person(), values=values())
    password = person_password_give(actor=cast.coordinator, row=person)
    person.refresh_from_db()
    kept = str(list(AuditEntry.objects.values()))
    assert "person_password_give" in kept
    assert password not in kept
    assert person.password not in kept


def test_a_deactivated_person_is_out_at_once_and_can_come_back(cast: Cast) -> None:
    """The open session ends too; the caseload stays."""
    inside, _ = sign_in("teacher", PASSWORD)
    person_active_set(actor=cast.coordinator, row=cast.teacher, active=False)
    assert inside.get(reverse("student_list")).status_code == 302
    assert sign_in("teacher", PASSWORD)[1] == 200
    cast.student.refresh_from_db()
    assert cast.student.caseload_teacher == cast.teacher
    person_active_set(actor=cast.coordinator, row=cast.teacher, active=True)
    assert sign_in("teacher", PASSWORD)[1] == 302


def test_nobody_locks_themselves_or_strangers_out(cast: Cast) -> None:
    """The last coordinator would leave a district that nobody can mend."""
    with pytest.raises(ApplicationError, match="own sign-in"):
        person_active_set(actor=cast.coordinator, row=cast.coordinator, active=False)
    with pytest.raises(ApplicationError) as refused:
        person_active_set(actor=cast.stranger, row=cast.teacher, active=False)
    assert refused.value.status == 404


def test_a_role_that_records_rest_on_stays(cast: Cast) -> None:
    """A teacher with a caseload can't become an office; somebody who has nothing yet can."""
    with pytest.raises(ValidationError) as refused:
        person_save(actor=cast.coordinator, row=cast.teacher, values={"role": "substitute"})
    assert refused.value.message_dict == {"role": [ROLE_STAYS]}
    fresh = person_save(actor=cast.coordinator, row=Person(), values=values())
    assert person_save(actor=cast.coordinator, row=fresh, values={"role": "substitute"}).role == "substitute"


def test_the_api_adds_and_deactivates(cast: Cast) -> None:
    """With the same services; an office needs its buildings."""
    api = Api(cast.coordinator)
    missing = api.post("people/", 400, **values(role="office"))
    assert list(missing["fields"]) == ["buildings"]
    made = api.post("people/", **values(role="office", buildings=[cast.north.pk]))
    assert "username" not in made
    given = api.post(f"people/{made['id']}/password/", 200)["password"]
    assert sign_in("pwren", given)[1] == 302
    assert api.post(f"people/{made['id']}/deactivate/", 200)["is_active"] is False
    assert api.post(f"people/{made['id']}/reactivate/", 200)["is_active"] is True
    Api(cast.teacher).post("people/", 403, **values())


def test_the_api_keeps_covers(cast: Cast) -> None:
    """Only a substitute covers, only a teacher is covered, and the dates stand in order."""
    api = Api(cast.coordinator)
    cover: dict[str, Any] = {"teacher": cast.teacher.pk, "first_date": "2026-10-05", "last_date": "2026-10-09"}
    wrong = api.post("substitutions/", 400, **cover, substitute=cast.mate.pk)
    assert list(wrong["fields"]) == ["substitute"]
    turned = {**cover, "last_date": "2026-10-01"}
    assert list(api.post("substitutions/", 400, **turned, substitute=cast.substitute.pk)["fields"])
    made = api.post("substitutions/", **cover, substitute=cast.substitute.pk)
    api.delete(f"substitutions/{made['id']}/")


def test_a_district_of_ones_own(db: None) -> None:
    """The command prints a password that lets the coordinator in once, to choose another and add people."""
    out = StringIO()
    call_command(
        "start_district",
        "Fallow Combe Schools",
        "--time-zone=America/Chicago",
        "--state=ia",
        "--coordinator=odell",
        stdout=out,
    )
    district = District.objects.get(name="Fallow Combe Schools")
    assert (district.time_zone, district.state) == ("America/Chicago", "IA")
    printed = re.search(r"password +(\S+)", out.getvalue())
    assert printed is not None
    client, status = sign_in("odell", printed[1])
    assert status == 302
    client.post(
        reverse("password_change"), {"old_password": printed[1], "new_password1": FRESH, "new_password2": FRESH}
    )
    assert client.get(reverse("people")).status_code == 200


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["Marrow Vale County", "--coordinator=odell"], "District: District with this Name already exists."),
        (
            ["Fallow", "--coordinator=odell", "--time-zone=Mars/North"],
            "--time-zone: “Mars/North” isn't a time zone.",
        ),
        (["Fallow", "--coordinator=odell", "--state=ZZ"], "--state: “ZZ” isn't a state."),
        (["Fallow", "--coordinator=Teacher"], f"--coordinator: {NAME_TAKEN}"),
        (["Fallow", "--coordinator=o dell"], "--coordinator: Enter a valid username."),
    ],
)
def test_a_district_that_cannot_be_started_says_why(cast: Cast, arguments: list[str], words: str) -> None:
    """In one line, and nothing is left behind."""
    before = District.objects.count()
    with pytest.raises(CommandError) as refused:
        call_command("start_district", *arguments)
    assert words in str(refused.value)
    assert District.objects.count() == before
