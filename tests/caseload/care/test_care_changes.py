"""Adding, changing and removing what is written about care, and taking it back; by pages, the API and a table."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.care.selectors import last_change
from caseload.care.services import (
    care_settings_save,
    care_take_back,
    caution_remove,
    caution_save,
    caution_tag_delete,
    caution_tag_save,
    caution_tag_take_back,
    contact_remove,
    contact_save,
    support_remove,
    support_save,
)
from caseload.care.written import ON_RECORD
from tests.api import Api
from tests.caseload.care.written import write_care
from tests.conftest import Cast, date_there

pytestmark = pytest.mark.django_db


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    browser = Client()
    browser.force_login(person)
    return browser


def tags(cast: Cast, *names: str) -> list[CautionTag]:
    """Tags of the district by name."""
    return list(CautionTag.objects.filter(district=cast.district, name__in=names))


def shown(row: Caution) -> dict[str, Any]:
    """What a caution says."""
    return {"text": row.text, "tags": sorted(tag.name for tag in row.tags.all()), "steps": row.emergency_steps}


def test_what_was_added_goes_and_what_was_removed_is_there_again(cast: Cast) -> None:
    """With its tags; each change once, and nothing after that."""
    values = {"text": "Seizures", "tags": tags(cast, "water", "height"), "emergency_steps": "Time it.\nCall."}
    made = caution_save(actor=cast.teacher, row=Caution(student=cast.student), values=values)
    care_take_back(actor=cast.teacher, about=cast.student)
    assert not Caution.objects.exists()
    made = caution_save(actor=cast.teacher, row=Caution(student=cast.student), values=values)
    told = shown(made)
    caution_remove(actor=cast.coordinator, row=made)
    care_take_back(actor=cast.teacher, about=cast.student)
    assert shown(Caution.objects.get()) == told
    with pytest.raises(ApplicationError, match="no change to take back"):
        care_take_back(actor=cast.teacher, about=cast.student)


def test_a_change_is_taken_back_unless_somebody_changed_it_since(cast: Cast) -> None:
    """Old tags and texts are there again; a page that saw another change is refused."""
    row = caution_save(
        actor=cast.teacher, row=Caution(student=cast.student), values={"text": "Old", "tags": tags(cast, "noise")}
    )
    first = last_change(cast.student)
    caution_save(
        actor=cast.teacher,
        row=row,
        values={"text": "New", "tags": tags(cast, "heat"), "written_on": dt.date(2026, 9, 2)},
    )
    assert first is not None
    with pytest.raises(ApplicationError):
        care_take_back(actor=cast.teacher, about=cast.student, seen=first.entry.pk)
    Caution.objects.filter(pk=row.pk).update(text="Newer")
    with pytest.raises(ApplicationError, match="changed this since"):
        care_take_back(actor=cast.teacher, about=cast.student)
    Caution.objects.filter(pk=row.pk).update(text="New")
    care_take_back(actor=cast.teacher, about=cast.student)
    row = Caution.objects.get()
    assert (row.text, row.written_on, [tag.name for tag in row.tags.all()]) == ("Old", None, ["noise"])


def test_supports_and_contacts_are_taken_back_too(cast: Cast) -> None:
    """A student's by the student, a class's by the class."""
    support = support_save(
        actor=cast.coordinator,
        row=Support(student=cast.student),
        values={"kind": "with", "text": "Walks in with", "other_student": cast.mates_student},
    )
    support_remove(actor=cast.coordinator, row=support)
    care_take_back(actor=cast.coordinator, about=cast.student)
    assert Support.objects.get().other_student == cast.mates_student
    contact = contact_save(
        actor=cast.mate,
        row=Contact(school_class=cast.room4),
        values={"role": "aide", "name": "Ines", "phone": "555"},
    )
    contact_remove(actor=cast.mate, row=contact)
    care_take_back(actor=cast.teacher, about=cast.room4)
    assert Contact.objects.get().name == "Ines"
    with pytest.raises(ApplicationError):
        care_take_back(actor=cast.mate, about=cast.student)


def test_another_kind_leaves_the_other_student_behind(cast: Cast) -> None:
    """Who is kept apart no more is named no more; a teacher can't name a student out of sight."""
    row = Support(student=cast.student)
    support_save(
        actor=cast.coordinator, row=row, values={"kind": "apart", "text": "x", "other_student": cast.mates_student}
    )
    support_save(actor=cast.coordinator, row=row, values={"kind": "cue", "text": "Two claps"})
    assert Support.objects.get().other_student is None
    with pytest.raises(ValidationError):
        support_save(
            actor=cast.teacher,
            row=Support(student=cast.student),
            values={"kind": "with", "text": "x", "other_student": cast.mates_student},
        )


def test_parents_only_where_the_district_keeps_them(cast: Cast) -> None:
    """Refused in words before the coordinator turns it on, and a teacher can't."""
    values = {"role": "parent", "name": "M. Tarn", "phone": "555 0199"}
    with pytest.raises(ValidationError, match="doesn't keep parents here"):
        contact_save(actor=cast.teacher, row=Contact(student=cast.student), values=values)
    with pytest.raises(ApplicationError):
        care_settings_save(actor=cast.teacher, values={"keeps_parents": True})
    care_settings_save(actor=cast.coordinator, values={"keeps_parents": True})
    assert contact_save(actor=cast.teacher, row=Contact(student=cast.student), values=values).pk
    page = reverse("contact_new", args=[cast.student.pk])
    assert "Parent or guardian" in signed_in(cast.teacher).get(page).content.decode()
    care_settings_save(actor=cast.coordinator, values={"keeps_parents": False})
    assert "Parent or guardian" not in signed_in(cast.teacher).get(page).content.decode()


def test_a_caution_on_the_page_from_adding_to_taking_back(cast: Cast) -> None:
    """Steps stand open, whoever decides is named, and one tap takes the last change back."""
    browser, page = signed_in(cast.teacher), reverse("student_detail", args=[cast.student.pk])
    empty = browser.get(page).content.decode()
    assert "None written down here. If in doubt, ask." in empty
    sent = {
        "kind": "medical", "text": "Seizures", "tags": [str(tag.pk) for tag in tags(cast, "water")],
        "emergency_steps": "Note the time.\nCall the nurse.", "decides": "The school nurse",
        "source": "Seizure plan", "written_on": "2026-09-02", "first_day": "", "last_day": "",
    }  # fmt: skip
    answer = browser.post(reverse("caution_new", args=[cast.student.pk]), sent)
    assert answer.status_code == 302
    told = browser.get(page).content.decode()
    for text in ("Seizures", "water", "<li>Note the time.</li>", "The school nurse", "Seizure plan", "Sep 2, 2026"):
        assert text in told, text
    seen = last_change(cast.student)
    assert seen is not None
    browser.post(reverse("care_take_back", args=[cast.student.pk]), {"seen": seen.entry.pk})
    assert "None written down here" in browser.get(page).content.decode()


def test_what_ended_stands_apart(cast: Cast) -> None:
    """With its days, and where it can be changed."""
    Support.objects.create(student=cast.student, text="Old cue", last_day=dt.date(2026, 1, 9))
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "Not now: 1" in page
    assert "until January 9, 2026" in page


def test_a_substitute_reads_everything_and_changes_nothing(cast: Cast) -> None:
    """While the substitution lasts: the steps and whom to call."""
    today = date_there()
    Substitution.objects.create(substitute=cast.substitute, teacher=cast.teacher, first_date=today, last_date=today)
    Caution.objects.create(student=cast.student, text="Seizures", emergency_steps="Call the nurse.")
    Contact.objects.create(student=cast.student, role="nurse", name="Runa Orre", phone="555-0142")
    page = signed_in(cast.substitute).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "Call the nurse." in page
    assert 'href="tel:555-0142"' in page
    assert "Add a caution" not in page
    assert "Take it back" not in page


def test_the_api_does_what_the_pages_do(cast: Cast) -> None:
    """Add, change, read, remove, take back; the text of both lists as before."""
    api = Api(cast.teacher)
    tag = tags(cast, "latex")[0]
    made = api.post(
        "cautions/",
        201,
        student=cast.student.pk,
        kind="medical",
        text="Latex",
        tags=[tag.pk],
        emergency_steps="Call.",
    )
    api.patch(f"cautions/{made['id']}/", 200, decides="The nurse")
    care = api.get(f"students/{cast.student.pk}/care/")
    assert (care["cautions"], care["cautions_listed"][0]["whom"]) == ("Latex", "The nurse")
    assert care["cautions_listed"][0]["emergency_steps"] == ["Call."]
    api.delete(f"cautions/{made['id']}/", 204)
    api.post(f"students/{cast.student.pk}/care/undo/", 204)
    assert api.get(f"students/{cast.student.pk}/care/")["cautions"] == "Latex"
    assert api.post("contacts/", 400, role="aide", name="Ines", phone="555")["code"] == "invalid"


def test_the_records_own_text_is_apart_from_other_rows(cast: Cast) -> None:
    """What the table of students brings takes the place of its own text only."""
    Caution.objects.create(student=cast.student, text="Latex")
    write_care(cast.student, cautions="Seizures")
    write_care(cast.student, cautions="Seizures: heights")
    assert sorted(Caution.objects.values_list("text", "source")) == [
        ("Latex", ""), ("Seizures: heights", ON_RECORD),
    ]  # fmt: skip


def test_a_tag_that_was_deleted_comes_back_to_all_that_had_it(cast: Cast) -> None:
    """By the page, once; somebody else's tags stay out of it."""
    row = caution_save(
        actor=cast.teacher, row=Caution(student=cast.student), values={"text": "Latex", "tags": tags(cast, "latex")}
    )
    caution_tag_delete(actor=cast.teacher, row=tags(cast, "latex")[0])
    assert not row.tags.exists()
    client = signed_in(cast.teacher)
    page = client.get(reverse("caution_tags"))
    assert "removed this caution tag" in page.text
    seen = page.context["last"].entry.pk
    back = reverse("caution_tags_take_back")
    assert "Taken back." in client.post(back, {"seen": seen}, follow=True).text
    assert [tag.name for tag in row.tags.all()] == ["latex"]
    assert (
        "no change to take back" in client.post(reverse("caution_tags_take_back"), {"seen": seen}, follow=True).text
    )
    with pytest.raises(ApplicationError, match="no change to take back"):
        caution_tag_take_back(actor=cast.stranger)


def test_a_tag_that_was_added_or_renamed_is_taken_back(cast: Cast) -> None:
    """By the API; a name that was taken since is said in words."""
    caution_tag_save(actor=cast.teacher, row=CautionTag(), values={"name": "ice"})
    Api(cast.teacher).post("caution-tags/take-back/", expect=204)
    assert not tags(cast, "ice")
    caution_tag_save(actor=cast.teacher, row=tags(cast, "heat")[0], values={"name": "hot sun"})
    Api(cast.mate).post("caution-tags/take-back/", expect=204)
    assert tags(cast, "heat")
    assert Api(cast.mate).post("caution-tags/take-back/", expect=409)["code"] == "nothing_to_undo"
    caution_tag_delete(actor=cast.teacher, row=tags(cast, "heat")[0])
    CautionTag.objects.create(district=cast.district, name="Heat")
    with pytest.raises(ValidationError, match="already has this tag"):
        caution_tag_take_back(actor=cast.teacher)
