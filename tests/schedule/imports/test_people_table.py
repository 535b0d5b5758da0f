"""People by table: who may bring it, whom a row is taken for, what is never in it, and how it is taken back."""

import datetime as dt
import json

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.files import write_csv
from accounts.models import AuditEntry, Invitation, Person, PersonRole
from accounts.people.services import NAME_TAKEN, person_password_give
from accounts.roles.services import LAST_COORDINATOR
from schedule.imports.files.export import export_rows
from schedule.imports.models import ImportBatch, ImportedRow
from schedule.imports.services.tables import import_commit, import_preview, import_undo
from schedule.imports.tables.staff import PEOPLE
from tests.conftest import Cast, make_person
from tests.schedule.imports.district import commit, only_problem, preview, problems, warnings

BEGUN = "Sign-in name,First name,Last name,Mail address,Role"
HEADER = f"{BEGUN},Role from,Role until,Buildings,Last day of work,Can sign in"
TWO = f"""{HEADER}
obrand,Orla,Brand,obrand@example.org,teacher,,,,,
rfenn,Rook,Fenn,,office,2026-09-01,,{{code}},,yes
"""


def told(batch: ImportBatch) -> list[str]:
    """What each row does, in one line each."""
    return [f"{row} {action}: {'; '.join(words)}" for row, action, words in batch.content["outcomes"]["people"]]


def two(cast: Cast) -> str:
    """Two new people, one of them the office of a building."""
    return TWO.format(code=cast.north.code)


def test_new_people_are_there_with_their_roles_and_cannot_sign_in_yet(cast: Cast) -> None:
    """As the People page makes them: without a password until they choose or are given one."""
    batch = preview(cast.coordinator, "people", two(cast))
    assert problems(batch) == []
    assert not Person.objects.filter(username="obrand").exists()
    import_commit(actor=cast.coordinator, batch=batch)
    brand, fenn = (Person.objects.get(username=name) for name in ("obrand", "rfenn"))
    assert brand.district == fenn.district == cast.district
    assert (brand.email, brand.role) == ("obrand@example.org", "teacher")
    assert not brand.has_usable_password()
    assert [(one.role, one.first_day) for one in fenn.role_rows] == [("office", dt.date(2026, 9, 1))]
    assert [one.building for one in fenn.offices.all()] == [cast.north]


def test_no_password_stands_in_a_preview_a_record_of_it_or_an_export(cast: Cast) -> None:
    """Not as a hash either; and who is there keeps the password through an import and its undo."""
    hashes = dict(Person.objects.values_list("pk", "password"))
    changed = two(cast) + "mate,Maud,Vey,,teacher,,,,,\n"
    batch = preview(cast.coordinator, "people", changed)
    seen = [json.dumps([batch.content, batch.ready], default=str)]
    import_commit(actor=cast.coordinator, batch=batch)
    batch.refresh_from_db()
    seen += [json.dumps([row.before, row.after]) for row in ImportedRow.objects.all()]
    seen += [json.dumps(entry.changes) for entry in AuditEntry.objects.all()]
    seen += [json.dumps(list(export_rows(cast.coordinator, PEOPLE)))]
    made = set(Person.objects.values_list("password", flat=True)) | set(hashes.values())
    assert len(made) == len(hashes) + 2
    assert [text for text in seen if "password" in text or any(one in text for one in made)] == []
    assert Person.objects.get(username="mate").first_name == "Maud"
    import_undo(actor=cast.coordinator, batch=batch)
    assert dict(Person.objects.values_list("pk", "password")) == hashes
    assert Person.objects.get(username="mate").first_name == "Mate"


def test_who_is_there_is_changed_and_not_doubled(cast: Cast) -> None:
    """Known by the sign-in name, whatever its capitals; a column that is left out keeps what is saved."""
    count = Person.objects.count()
    batch = commit(cast.coordinator, "people", "Sign-in name,Mail address\nMATE,mate@example.org\nteacher,\n")
    assert Person.objects.count() == count
    assert Person.objects.get(username="mate").email == "mate@example.org"
    assert batch.content["tallies"]["people"] == {"new": 0, "changed": 1, "same": 1, "removed": 0}


def test_another_mail_address_ends_the_invitation_that_was_mailed(cast: Cast) -> None:
    """As on the People page; taking the table back brings both back. Nothing of the link is kept with it."""
    begins = timezone.now()
    invited = Invitation.objects.create(
        district=cast.district, person=cast.mate, made_at=begins, sent_at=begins, ends_at=begins + dt.timedelta(7),
        digest="5e" * 32,
    )  # fmt: skip
    batch = commit(cast.coordinator, "people", "Sign-in name,Mail address\nmate,mate@example.org\n")
    invited.refresh_from_db()
    assert invited.stopped_at is not None
    kept = [json.dumps([row.before, row.after]) for row in ImportedRow.objects.all()]
    assert [text for text in [*kept, json.dumps(batch.content)] if invited.digest in text] == []
    import_undo(actor=cast.coordinator, batch=batch)
    assert Invitation.objects.filter(pk=invited.pk, stopped_at=None, digest=invited.digest).exists()


def test_a_row_without_a_sign_in_name_is_taken_for_who_has_the_mail_address(cast: Cast) -> None:
    """And the preview says for whom."""
    Person.objects.filter(pk=cast.mate.pk).update(email="mate@example.org")
    batch = preview(cast.coordinator, "people", "Mail address,First name,Last name\nMate@Example.org,Maud,Vey\n")
    assert problems(batch) == []
    assert [one.message for one in warnings(batch)] == [
        "By the mail address this row is taken for Mate Vey, who signs in as “mate”."
    ]
    assert told(batch) == ["2 changed: First name: Mate → Maud"]


def test_a_mail_address_under_another_sign_in_name_is_asked_about(cast: Cast) -> None:
    Person.objects.filter(pk=cast.mate.pk).update(email="mate@example.org")
    row = "mvey,Maud,Vey,mate@example.org\n"
    found = only_problem(
        preview(cast.coordinator, "people", f"Sign-in name,First name,Last name,Mail address\n{row}")
    )
    assert found.column == "Sign-in name"
    assert "signs in as “mate”" in found.message


def test_somebody_called_the_same_is_pointed_out(cast: Cast) -> None:
    batch = preview(cast.coordinator, "people", "Sign-in name,First name,Last name\nmvey,Mate,Vey\n")
    assert problems(batch) == []
    assert [one.message for one in warnings(batch)] == [
        "Mate Vey is there already and signs in as “mate”; this row adds another."
    ]


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        (",Orla,Brand,,teacher", "Sign-in name", "Somebody new needs a sign-in name."),
        ("obrand,,Brand,,teacher", "First name", "Somebody new needs a first name."),
        ("stranger,Orla,Brand,,teacher", "Sign-in name", NAME_TAKEN),
        ("o brand,Orla,Brand,,teacher", "Sign-in name", "Enter a valid username"),
        ("obrand,Orla,Brand,no address,teacher", "Mail address", "Enter a valid email address."),
        ("obrand,Orla,Brand,,janitor", "Role", "isn't one of the words"),
        ("obrand,Orla,Brand,,office", "Buildings", "building"),
    ],
)
def test_what_a_row_is_refused_for(row: str, column: str, said: str, cast: Cast) -> None:
    """By row and column, as the People page refuses it; a name of another district is taken, too."""
    found = only_problem(preview(cast.coordinator, "people", f"{BEGUN}\n{row}\n"))
    assert (found.row, found.column) == (2, column)
    assert said in found.message


def test_a_sign_in_name_is_suggested_that_nobody_has(cast: Cast) -> None:
    make_person(cast.district, "obrand", Person.Role.TEACHER)
    found = only_problem(preview(cast.coordinator, "people", "First name,Last name\nOdd,Brand\n"))
    assert "“obrand2”" in found.remedy


def test_roles_and_their_days_are_added_and_changed(cast: Cast) -> None:
    """One row for each role of a person. What it opens and ends is told before."""
    text = f"{HEADER}\nmate,Mate,Vey,,teacher,,2027-06-30,,,\nmate,Mate,Vey,,coordinator,2027-01-04,,,,\n"
    batch = preview(cast.coordinator, "people", text)
    assert problems(batch) == []
    lines = told(batch)
    assert "Itinerant teacher: without an end → until June 30, 2027" in lines[0]
    assert "sees every student of the district" in lines[1]
    import_commit(actor=cast.coordinator, batch=batch)
    rows = PersonRole.objects.filter(person=cast.mate).values_list("role", "first_day", "last_day")
    assert list(rows) == [("teacher", None, dt.date(2027, 6, 30)), ("coordinator", dt.date(2027, 1, 4), None)]
    again = preview(cast.coordinator, "people", text)
    assert again.content["tallies"]["people"] == {"new": 0, "changed": 0, "same": 2, "removed": 0}


def test_nobody_is_left_without_a_coordinator(cast: Cast) -> None:
    """Neither by a role's last day, nor by undoing the import that made the one who stays."""
    ends = f"{HEADER}\ncoordinator,,,,coordinator,,2027-06-30,,,\n"
    assert only_problem(preview(cast.coordinator, "people", ends)).message == LAST_COORDINATOR
    second = f"{HEADER}\nobrand,Orla,Brand,,coordinator,,,,,\n"
    batch = commit(cast.coordinator, "people", second)
    PersonRole.objects.filter(person=cast.coordinator).update(last_day=dt.date(2027, 6, 30))
    with pytest.raises(ApplicationError) as refused:
        import_undo(actor=cast.coordinator, batch=batch)
    assert refused.value.message == LAST_COORDINATOR
    assert Person.objects.filter(username="obrand", is_active=True).exists()


def test_a_coordinator_cannot_lock_themselves_out(cast: Cast) -> None:
    text = "Sign-in name,Can sign in\ncoordinator,no\n"
    assert "your own sign-in" in only_problem(preview(cast.coordinator, "people", text)).message


def test_undoing_deletes_who_has_nothing_and_deactivates_everybody_else(cast: Cast) -> None:
    """Nobody's records go, and the page names who stays."""
    text = f"{two(cast)}zalt,Zora,Alt,,teacher,,,,,\n"
    batch = commit(cast.coordinator, "people", text)
    zora, brand = Person.objects.get(username="zalt"), Person.objects.get(username="obrand")
    person_password_give(actor=cast.coordinator, row=zora)
    AuditEntry.objects.create(actor=brand, district=cast.district, action="role_choose", model="accounts.person")
    client = Client()
    client.force_login(cast.coordinator)
    page = client.get(reverse("import_preview", args=[batch.pk])).content.decode()
    assert "but can\u2019t sign in anymore" in page
    assert "Whoever is new can\u2019t sign in yet" in page
    page = client.post(reverse("import_undo", args=[batch.pk]), follow=True).content.decode()
    assert "Orla Brand, Zora Alt" in page or "Zora Alt, Orla Brand" in page
    assert "Whoever is new" not in page
    assert not Person.objects.filter(username="rfenn").exists()
    left = Person.objects.filter(username__in=("zalt", "obrand")).values_list("is_active", "roles__role")
    assert list(left) == [(False, "teacher"), (False, "teacher")]
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.UNDONE


def test_only_who_may_make_people_may_bring_them(cast: Cast) -> None:
    """A teacher finds no such table: not by page, file, workbook or export, nor in the API."""
    for kind, name, content in (
        ("people", "people.csv", two(cast).encode()),
        ("several", "people.csv", two(cast).encode()),
    ):
        with pytest.raises(ApplicationError) as refused:
            import_preview(actor=cast.teacher, kind=kind, filename=name, content=content)
        assert refused.value.status == 403
    client = Client()
    client.force_login(cast.teacher)
    home = client.get(reverse("import_home")).content.decode()
    assert reverse("import_upload", args=["people"]) not in home
    assert client.get(reverse("import_upload", args=["people"])).status_code == 403
    assert client.get(reverse("import_template", args=["people", "csv"])).status_code == 403
    assert client.get(reverse("import_export", args=["people", "csv"])).status_code == 403
    assert client.get(reverse("api:import_table-rows", args=["people"])).status_code == 403
    assert "people" not in {one["kind"] for one in client.get(reverse("api:import_table-list")).json()}
    assert list(export_rows(cast.teacher, PEOPLE)) == []
    assert b"coordinator" not in client.get(reverse("import_export", args=["several", "xlsx"])).content
    client.force_login(cast.coordinator)
    assert client.get(reverse("import_upload", args=["people"])).status_code == 200


def test_the_own_export_changes_nothing(cast: Cast) -> None:
    """Of people with two roles, an office and a sign-in that was deactivated; links aren't people of the table."""
    commit(cast.coordinator, "people", two(cast) + "obrand,Orla,Brand,obrand@example.org,substitute,,,,,\n")
    commit(cast.coordinator, "people", "Sign-in name,Can sign in\nobrand,no\n")
    Person.objects.create(username="link-1", district=cast.district, role="substitute", by_link=True)
    rows = list(export_rows(cast.coordinator, PEOPLE))
    assert "link-1" not in {row[0] for row in rows}
    batch = preview(cast.coordinator, "people", write_csv(PEOPLE.headers, rows))
    assert problems(batch) == []
    assert batch.content["tallies"]["people"] == {"new": 0, "changed": 0, "same": len(rows), "removed": 0}
