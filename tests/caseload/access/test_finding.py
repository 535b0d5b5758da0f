"""One student is found among a long district's by name or code; how many are offered is our own choice."""

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from accounts.pages import A_PAGE
from caseload.access.models import Access
from caseload.access.services import access_record
from caseload.care.models import Support
from caseload.plans.finding.selectors import MOST
from caseload.plans.models import Student
from caseload.retention.models import ErasureHold
from tests.conftest import Cast, date_there, make_student

LONG = "student_words"


@pytest.fixture
def long(cast: Cast) -> Cast:
    """More students than a page has, and two namesakes."""
    for number in range(A_PAGE):
        make_student(cast.district, cast.north, cast.teacher, f"L{number:03}")
    for code, last in (("K1", "Quill"), ("K2", "Quill"), ("K3", "Étoile")):
        Student.objects.create(
            district=cast.district, building=cast.north, caseload_teacher=cast.teacher, code=code,
            first_name="Bea", last_name=last, grade="3",
        )  # fmt: skip
    return cast


def browser_of(person: Person) -> Client:
    """Somebody's browser."""
    client = Client()
    client.force_login(person)
    return client


def _asked(**more: object) -> dict[str, str]:
    today = date_there().isoformat()
    return {"first": today, "last": today, **{name: str(value) for name, value in more.items()}}


def _offered(page: str) -> list[int]:
    """Ids of the students who can be chosen."""
    boxes = [part.split(">")[0] for part in page.split('name="student" value="')[1:]]
    return [int(one.split('"')[0]) for one in boxes if not one.startswith('"')]


def test_a_short_district_has_its_list(cast: Cast) -> None:
    """No more of them than a page: the browser's own choice."""
    page = browser_of(cast.coordinator).get(reverse("accesses")).content.decode()
    assert '<select name="student"' in page
    assert f'<option value="{cast.student.pk}">' in page
    assert LONG not in page


def test_a_long_district_names_nobody_unasked(long: Cast) -> None:
    """Neither page has the students in its form; nobody is recorded as seen."""
    client = browser_of(long.coordinator)
    for name in ("accesses", "erasure_hold_new", "parents_word_new"):
        page = client.get(reverse(name)).content.decode()
        assert LONG in page, name
        assert "Tarn" not in page, name
        assert _offered(page) == [], name
    assert {(row.count, row.students.count()) for row in Access.objects.all()} == {(0, 0)}


def test_a_code_or_a_whole_name_is_the_student(long: Cast) -> None:
    """The answer is an address with the id, and no word of the name."""
    client, student = browser_of(long.coordinator), Student.objects.get(code="L007")
    for words in ("l007", "Ola Tarn L007", " ola  tarn l007 "):
        answer = client.post(reverse("accesses"), _asked(student_words=words))
        assert answer.status_code == 302, words
        assert f"student={student.pk}" in answer["Location"]
        assert "arn" not in answer["Location"]
        assert LONG not in answer["Location"]
    access_record(person=long.coordinator, kind=Access.Kind.FILE, page="student_archive", students=[student.pk])
    page = client.get(answer["Location"]).content.decode()
    assert _offered(page) == [student.pk]
    assert "Tarn L007" in page.split("<tbody>")[1]


def test_several_are_offered_and_one_is_chosen(long: Cast) -> None:
    """Without scripts: the page comes back with who has the words; who is chosen of them counts."""
    client = browser_of(long.coordinator)
    answer = client.post(reverse("accesses"), _asked(student_words="quill"))
    assert answer.status_code == 422
    namesakes = {one.pk for one in Student.objects.filter(last_name="Quill")}
    assert set(_offered(answer.content.decode())) == namesakes
    assert "Choose the student below." in answer.content.decode()
    chosen = min(namesakes)
    answer = client.post(reverse("accesses"), _asked(student_words="quill", student=chosen))
    assert f"student={chosen}" in answer["Location"]
    # Who was chosen before isn't meant by the words of another.
    answer = client.post(reverse("accesses"), _asked(student_words="L003", student=chosen))
    assert f"student={Student.objects.get(code='L003').pk}" in answer["Location"]
    # Capital letters with an accent are found by small ones in each database.
    answer = client.post(reverse("accesses"), _asked(student_words="étoil"))
    assert _offered(answer.content.decode()) == [Student.objects.get(code="K3").pk]


def test_nobody_and_everybody(long: Cast) -> None:
    """Words of nobody are said to be so; no words are all students."""
    client = browser_of(long.coordinator)
    answer = client.post(reverse("accesses"), _asked(student_words="zzyzx"))
    assert answer.status_code == 422
    assert "No student here has these words" in answer.content.decode()
    for odd in ("a\0b", "b " * 3000):
        assert client.post(reverse("accesses"), _asked(student_words=odd)).status_code == 422
        assert client.post(reverse("students_found"), {LONG: odd}).status_code == 200
    answer = client.post(reverse("accesses"), _asked(student_words=""))
    assert answer.status_code == 302
    assert "student" not in answer["Location"]
    for odd in ("x", "0", "9" * 30):
        assert client.get(reverse("accesses"), _asked(student=odd)).status_code == 200


def test_at_most_twenty_are_offered_while_somebody_types(long: Cast) -> None:
    """With the word that there are more; those of other districts and of other teachers aren't among them."""
    client, found = browser_of(long.coordinator), reverse("students_found")
    page = client.post(found, {LONG: "tarn"}).content.decode()
    assert len(_offered(page)) == MOST
    assert "Only the first 20 are here." in page
    assert _offered(client.post(found, {LONG: ""}).content.decode()) == []
    page = client.post(found, {LONG: "bea K1"}).content.decode()
    assert _offered(page) == [Student.objects.get(code="K1").pk]
    assert " checked" in page
    for person in (long.stranger, long.mate):
        assert _offered(browser_of(person).post(found, {LONG: "quill"}).content.decode()) == []
    assert client.get(found, {LONG: "tarn"}).status_code == 405


def test_who_is_offered_is_recorded_as_seen(long: Cast) -> None:
    """A coordinator sees names by it."""
    browser_of(long.coordinator).post(reverse("students_found"), {LONG: "K1"})
    row = Access.objects.get(kind=Access.Kind.VIEW)
    assert row.page == "students_found"
    assert [one.code for one in row.students.all()] == ["K1"]


def test_a_hold_is_saved_for_who_is_meant(long: Cast) -> None:
    """And not for one of several, nor for one of another district."""
    client, address = browser_of(long.coordinator), reverse("erasure_hold_new")
    values = {"reason": ErasureHold.Reason.values[0], "words": "As agreed.", "first_day": date_there().isoformat()}
    assert client.post(address, {**values, LONG: "quill"}).status_code == 422
    assert client.post(address, {**values, LONG: ""}).status_code == 422
    assert client.post(address, {**values, "student": str(10**6)}).status_code == 422
    assert not ErasureHold.objects.exists()
    assert client.post(address, {**values, LONG: "K2"}).status_code == 302
    assert ErasureHold.objects.get().student.code == "K2"


def test_the_other_student_of_a_support_is_found(long: Cast) -> None:
    """By a field of its own; never the support's own student, and none is named unasked."""
    client, other = browser_of(long.coordinator), Student.objects.get(code="L007")
    address = reverse("support_new", kwargs={"student": long.student.pk})
    page = client.get(address).content.decode()
    assert "L007" not in page
    assert 'name="other_student_words"' in page
    found = client.post(reverse("students_found"), {"other_student_words": "l007"}).content.decode()
    assert f'name="other_student" value="{other.pk}"' in found
    values = {"kind": Support.Kind.APART, "text": "Another round."}
    own = client.post(address, {**values, "other_student_words": long.student.code})
    assert own.status_code == 422
    assert not Support.objects.exists()
    assert client.post(address, {**values, "other_student_words": "L007"}).status_code == 302
    support = Support.objects.get()
    assert support.other_student == other
    change = reverse("support_change", kwargs={"pk": support.pk})
    page = client.get(change).content.decode()
    assert f'name="other_student" value="{other.pk}" checked' in page
    assert client.post(change, {**values, "text": "Other hall.", "other_student": other.pk}).status_code == 302
    support.refresh_from_db()
    assert (support.text, support.other_student) == ("Other hall.", other)
