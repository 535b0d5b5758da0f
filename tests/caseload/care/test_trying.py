"""A student who came before the plan did: what was tried, provisional supports, the question to the team."""

import datetime as dt
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.care.models import Contact, Support, Try
from caseload.care.selectors import care_of
from caseload.care.selectors.tries import tries_shown
from caseload.care.services import (
    care_take_back,
    support_save,
    support_sheet_make,
    support_sheet_take_back,
    try_remove,
    try_save,
)
from caseload.care.trying import Tried, question_to_team
from tests.api import Api
from tests.conftest import Cast

DAY = dt.date(2026, 10, 5)


def tried(cast: Cast, kind: str, text: str, outcome: str, seen: str = "") -> Try:
    """One that was tried and seen."""
    row = try_save(actor=cast.teacher, row=Try(student=cast.student), values={"kind": kind, "text": text})
    return try_save(actor=cast.teacher, row=row, values={"outcome": outcome, "seen": seen, "seen_on": DAY})


@pytest.mark.django_db
def test_what_helped_becomes_provisional_supports_and_goes_again(cast: Cast) -> None:
    """Marked so wherever the student stands; made twice it is brought up to date, not doubled."""
    with pytest.raises(ApplicationError, match="Nothing has been seen yet"):
        support_sheet_make(actor=cast.teacher, student=cast.student)
    ball = tried(cast, "calms", "A slow ball", "helped", "Sat down after a minute.")
    tried(cast, "ask", "Two pictures", "mixed")
    tried(cast, "draws", "Music", "did_not")
    support_sheet_make(actor=cast.teacher, student=cast.student)
    care = care_of(cast.teacher, [cast.student.pk])[cast.student.pk]
    assert care.supports.splitlines() == [
        "Communication: How to ask: Two pictures",
        "What calms: A slow ball (seen: Sat down after a minute)",
    ]
    assert all(one.is_provisional and one.source for one in care.supports_listed)
    ball.refresh_from_db()
    try_save(actor=cast.teacher, row=ball, values={"seen": "Smiled"})
    support_sheet_make(actor=cast.teacher, student=cast.student)
    assert Support.objects.count() == 2
    assert "(seen: Smiled)" in care_of(cast.teacher, [cast.student.pk])[cast.student.pk].supports
    assert support_sheet_take_back(actor=cast.teacher, student=cast.student) == 2
    assert Try.objects.count() == 3
    assert not Support.objects.exists()


@pytest.mark.django_db
def test_what_the_team_has_said_is_left_alone(cast: Cast) -> None:
    """A support that is provisional no more is neither overwritten nor taken away."""
    tried(cast, "calms", "A slow ball", "helped")
    made = support_sheet_make(actor=cast.teacher, student=cast.student)[0]
    support_save(actor=cast.teacher, row=made, values={"is_provisional": False, "text": "As the team says"})
    support_sheet_make(actor=cast.teacher, student=cast.student)
    support_sheet_take_back(actor=cast.teacher, student=cast.student)
    assert Support.objects.get().text == "As the team says"


@pytest.mark.django_db
def test_what_came_of_it_has_a_day_and_a_person_and_can_be_taken_back(cast: Cast) -> None:
    """A tap says today and who; not tried yet takes both away; the same thing stands once."""
    row = try_save(
        actor=cast.teacher, row=Try(student=cast.student), values={"kind": "calms", "text": "A slow ball"}
    )
    row = try_save(actor=cast.teacher, row=row, values={"outcome": "helped"})
    assert (row.seen_by, row.seen_on is not None) == (cast.teacher, True)
    care_take_back(actor=cast.teacher, about=cast.student)
    row.refresh_from_db()
    assert (row.outcome, row.seen_by, row.seen_on) == ("not_yet", None, None)
    with pytest.raises(ValidationError, match="already on the list"):
        try_save(actor=cast.teacher, row=Try(student=cast.student), values={"kind": "calms", "text": "A slow ball"})
    try_remove(actor=cast.teacher, row=row)
    care_take_back(actor=cast.teacher, about=cast.student)
    assert Try.objects.get().text == "A slow ball"


def test_the_question_says_what_was_seen_and_asks() -> None:
    """Only what was tried; the initials; that it stays provisional."""
    letter = question_to_team(
        "O.T.",
        [
            Tried("What calms", "A slow ball", "It helped", "Sat down.", DAY, counts=True),
            Tried("What draws", "Music", "Not tried yet", "", None, counts=False),
        ],
        "Hollis Marchbanks",
    )
    assert "- What calms: A slow ball (seen: Sat down): it helped" in letter
    assert "Music" not in letter
    assert "whom do I ask?" in letter
    assert letter.endswith("stays provisional.\nHollis Marchbanks")
    assert "Nothing has been tried yet." in question_to_team("O.T.", [], "Hollis")


@pytest.mark.django_db
def test_the_letter_goes_to_the_team_without_the_name(cast: Cast) -> None:
    """To the contacts with an address, never to parents; initials in what the mail program opens."""
    for role, email in (("nurse", "orre@example.org"), ("parent", "home@example.org"), ("aide", "")):
        Contact.objects.create(student=cast.student, role=role, name=role, email=email, phone="555")
    shown = tries_shown(cast.teacher, cast.student, cast.student.initials)
    parts = urlsplit(shown.mail)
    assert (parts.scheme, parts.path) == ("mailto", "orre%40example.org")
    assert parse_qs(parts.query)["subject"] == ["Question about O.T."]
    assert "Tarn" not in shown.mail
    assert parse_qs(parts.query)["body"] == [shown.question]


@pytest.mark.django_db
def test_the_page_from_a_suggestion_to_supports(cast: Cast) -> None:
    """One tap puts it on the list, one says what came of it, one makes the supports."""
    browser, page = Client(), reverse("try_list", args=[cast.student.pk])
    browser.force_login(cast.teacher)
    assert "common practice" in browser.get(page).content.decode()
    browser.post(reverse("try_add", args=[cast.student.pk]), {"kind": "ask", "text": "First this, then that"})
    row = Try.objects.get()
    browser.post(reverse("try_seen", args=[row.pk]), {"outcome": "helped"})
    browser.post(reverse("support_sheet", args=[cast.student.pk]))
    student = browser.get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "How to ask: First this, then that" in student
    assert "Provisional" in student
    answer = browser.post(reverse("try_add", args=[cast.student.pk]), {"kind": "ask", "text": ""}, follow=True)
    assert "Write what to try" in answer.content.decode()
    assert Try.objects.count() == 1


@pytest.mark.django_db
def test_the_api_tries_too(cast: Cast) -> None:
    """Add, say what came of it, make the supports, take them away."""
    api = Api(cast.teacher)
    row = api.post("tries/", 201, student=cast.student.pk, kind="calms", text="A slow ball")
    assert api.post(f"students/{cast.student.pk}/support-sheet/", 409)["code"] == "nothing_seen"
    assert api.patch(f"tries/{row['id']}/", 200, outcome="helped")["seen_by"] == cast.teacher.pk
    assert len(api.post(f"students/{cast.student.pk}/support-sheet/", 200)) == 1
    api.delete(f"students/{cast.student.pk}/support-sheet/", 204)
    assert not Support.objects.exists()
