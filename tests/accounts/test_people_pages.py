"""The coordinator's pages of people: add, hand over a password, deactivate, cover."""

import re

from django.test import Client
from django.urls import reverse

from accounts.models import Person, Substitution
from tests.conftest import Cast
from travel.places.models import Building


def signed_in(person: Person) -> Client:
    """A browser in which the person has signed in."""
    client = Client()
    client.force_login(person, backend="accounts.sign_in.backends.PasswordBackend")
    return client


def form(**more: object) -> dict[str, object]:
    """A filled form."""
    return {"first_name": "Petra", "last_name": "Wren", "username": "pwren", "role": "office", **more}


def test_an_office_is_added_and_sees_its_building(cast: Cast) -> None:
    """From the form to the password page to the office's own first sign-in."""
    page = signed_in(cast.coordinator).post(reverse("person_new"), form(buildings=[cast.north.pk]))
    assert page.status_code == 200
    assert "no-store" in page["Cache-Control"]
    password = re.search(r"<code>([a-z2-9-]{19})</code>", page.content.decode())
    assert password is not None
    person = Person.objects.get(username="pwren")
    assert list(Building.objects.visible_to(person)) == [cast.north]
    entry = Client().post(reverse("sign_in"), {"username": "pwren", "password": password[1]})
    assert entry.status_code == 302


def test_an_office_without_a_building_is_asked_for_one(cast: Cast) -> None:
    """At the field; nothing is saved."""
    page = signed_in(cast.coordinator).post(reverse("person_new"), form())
    assert page.status_code == 422
    assert "Choose the buildings where this office works" in page.content.decode()
    assert not Person.objects.filter(username="pwren").exists()


def test_somebody_is_found_by_a_part_of_a_name(cast: Cast) -> None:
    """By name or sign-in name, in whatever capitals; nobody of another district, and no name in an address."""
    Person.objects.create(username="ezw", first_name="\u00c9lodie", last_name="Zwick", district=cast.district)
    Person.objects.create(username="zwfar", first_name="Farah", last_name="Zwick", district=cast.other_district)
    client = signed_in(cast.coordinator)

    def found(words: str) -> list[str]:
        answer = client.post(reverse("people"), {"words": words})
        assert (answer.status_code, answer.request["QUERY_STRING"]) == (200, "")
        return re.findall(r'<a class="main" [^>]*>([^<]*)</a>', answer.content.decode())

    assert found("zwick \u00e9lo") == found("EZW") == ["\u00c9lodie Zwick"]
    assert found("zwick farah") == []
    page = client.post(reverse("people"), {"words": "nobody-here"}).content.decode()
    assert "is called \u201cnobody-here\u201d" in page
    assert cast.teacher.get_full_name() in client.post(reverse("people"), {"words": " "}).content.decode()
    assert cast.teacher.get_full_name() in client.get(reverse("people")).content.decode()


def test_an_office_moves_to_another_building(cast: Cast) -> None:
    """The old one is out of its sight."""
    page = signed_in(cast.coordinator).post(
        reverse("person_change", args=[cast.office.pk]), form(username="office", buildings=[cast.south.pk])
    )
    assert page.status_code == 302
    assert list(Building.objects.visible_to(cast.office)) == [cast.south]


def test_a_role_that_records_rest_on_is_no_field(cast: Cast) -> None:
    """It stands under Roles alone, with its days; of somebody new, who did nothing yet, it is corrected."""
    client = signed_in(cast.coordinator)
    fresh = Person.objects.create(username="fresh", role="teacher", district=cast.district)
    for person, asked in ((cast.teacher, False), (cast.office, False), (fresh, True)):
        page = client.get(reverse("person_change", args=[person.pk])).content.decode()
        assert ('name="role"' in page) is asked
        assert ">Roles</h2>" in page
    named = {"first_name": "Ila", "last_name": "Marr", "username": "teacher"}
    assert client.post(reverse("person_change", args=[cast.teacher.pk]), named).status_code == 302
    cast.teacher.refresh_from_db()
    assert (cast.teacher.last_name, cast.teacher.role) == ("Marr", "teacher")


def test_a_new_password_is_shown_once(cast: Cast) -> None:
    """Only as the answer to a press; no page can be loaded again that holds it."""
    client = signed_in(cast.coordinator)
    page = client.post(reverse("person_password", args=[cast.teacher.pk]))
    assert "no-store" in page["Cache-Control"]
    assert client.get(reverse("person_password", args=[cast.teacher.pk])).status_code == 405
    assert "Has not chosen a password" in client.get(reverse("people")).content.decode()


def test_deactivate_and_let_in_again(cast: Cast) -> None:
    """Both from the person's page; the list says so."""
    client = signed_in(cast.coordinator)
    address = reverse("person_active", args=[cast.teacher.pk])
    page = client.post(address, {"active": "no"}, follow=True).content.decode()
    assert "sign in anymore" in page
    assert "Deactivated" in page
    page = client.post(address, {"active": "yes"}, follow=True).content.decode()
    assert "can sign in again" in page


def test_cover_is_added_and_ended(cast: Cast) -> None:
    """Only substitutes are offered, only teachers are covered."""
    client = signed_in(cast.coordinator)
    page = client.get(reverse("substitution_new")).content.decode()
    choices = re.findall(r'<option value="(\d+)"', page)
    offered = {cast.substitute.pk, cast.teacher.pk, cast.mate.pk}
    assert {int(choice) for choice in choices} == offered
    values = {"substitute": cast.substitute.pk, "teacher": cast.teacher.pk}
    dates = {"first_date": "2126-10-05", "last_date": "2126-10-09"}
    assert (
        "October 5 to October 9, 2126"
        in client.post(reverse("substitution_new"), {**values, **dates}, follow=True).content.decode()
    )
    turned = client.post(reverse("substitution_new"), {**values, **dates, "last_date": "2126-10-01"})
    assert turned.status_code == 422
    assert "The last date is before the first" in turned.content.decode()
    client.post(reverse("substitution_delete", args=[Substitution.objects.get().pk]))
    assert not Substitution.objects.exists()
