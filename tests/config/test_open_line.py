"""Asked by HTTP where HTTPS is all that is taken: pages lead on, the API refuses (OWASP ASVS 5.0, 4.1.2)."""

import pytest
from django.test import Client
from pytest_django.fixtures import Settings

from accounts.models import ApiToken
from caseload.plans.models import Student
from tests.accounts.test_tokens import make
from tests.api import API
from tests.conftest import Cast


@pytest.fixture(autouse=True)
def https_only(settings: Settings) -> None:
    """As with HTTPS_ONLY."""
    settings.SECURE_SSL_REDIRECT = True


def test_a_program_is_told_and_not_led_on(cast: Cast) -> None:
    """Whatever it brings is not looked at; by HTTPS the same is done."""
    token = make(cast.teacher)
    program = Client(headers={"Authorization": f"Bearer {token}"})
    where = f"{API}/students/{cast.student.pk}/"
    change = {"first_name": "Olla"}
    for answer in (program.get(where), program.patch(where, change, content_type="application/json")):
        assert answer.status_code == 403
        assert answer["Content-Type"] == "application/problem+json"  # RFC 9457
        assert answer.json()["code"] == "https_only"
        assert "https://" in answer.json()["detail"]
    assert Student.objects.get(pk=cast.student.pk).first_name != "Olla"
    assert ApiToken.objects.get().used_at is None
    assert program.patch(where, change, content_type="application/json", secure=True).status_code == 200


@pytest.mark.parametrize("where", ["/metrics/", "/sign-in/provider/ended/"])
def test_whatever_programs_ask_with_a_secret_is_refused(where: str) -> None:
    """A program that is led on never learns that its secret went in the open."""
    answers = [Client().get(where), Client().post(where, {"logout_token": "x"})]
    assert [answer.status_code for answer in answers] == [403, 403]
    assert {answer.json()["code"] for answer in answers} == {"https_only"}


def test_a_page_leads_on() -> None:
    """To the same address by HTTPS (RFC 6797, 7.2)."""
    answer = Client().get("/sign-in/?next=/week/")
    assert answer.status_code == 301
    assert answer["Location"] == "https://testserver/sign-in/?next=/week/"
