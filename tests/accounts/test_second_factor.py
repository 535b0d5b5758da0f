"""A second step beside the password: codes of an app, recovery codes, who needs one, and who can take it away.

The codes of an app are held against RFC 6238's own test values; a passkey goes through a real browser
(tests/browser/test_passkeys.py).
"""

import datetime as dt
import re
from io import StringIO

import pyotp
import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import AuditEntry, District, Person, RecoveryCode, SecondFactor, SignInRules
from accounts.sign_in.limits import TOGETHER
from accounts.sign_in.sealing import seal, unseal
from accounts.sign_in.services.factors import (
    APP_CODE,
    RECOVERY_CODE,
    code_take,
    codes_factor_add,
    person_factors_remove,
    recovery_codes_make,
)
from caseload.access.models import Access
from tests.api import API
from tests.conftest import PASSWORD, Cast

NOW = dt.datetime(2026, 10, 5, 14, 0, 10, tzinfo=dt.UTC)
# RFC 6238, appendix B, SHA-1: the secret is the ASCII string “12345678901234567890”, here in base32.
RFC_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
# The last six of the eight digits of that table, which are the six-digit code (RFC 4226, 5.3).
RFC_CODES = {59: "287082", 1111111109: "081804", 1111111111: "050471", 1234567890: "005924", 2000000000: "279037"}


def set_up(person: Person, *, now: dt.datetime = NOW) -> str:
    """An app with codes, set up a while ago; its secret."""
    secret = pyotp.random_base32()
    before = now - dt.timedelta(hours=1)
    codes_factor_add(actor=person, name="phone", secret=secret, code=pyotp.TOTP(secret).at(before), now=before)
    return secret


def password_given(client: Client | None = None) -> Client:
    """A browser after the right password."""
    browser = client or Client()
    answer = browser.post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert answer.status_code == 302
    return browser


def is_in(client: Client) -> bool:
    """Whether a session began."""
    return "_auth_user_id" in client.session


@pytest.mark.parametrize(("seconds", "code"), RFC_CODES.items())
def test_codes_are_those_of_the_rfc(cast: Cast, seconds: int, code: str) -> None:
    """Each of the table's moments within a signed 32-bit clock."""
    moment = dt.datetime.fromtimestamp(seconds, tz=dt.UTC)
    row = codes_factor_add(actor=cast.teacher, name="phone", secret=RFC_SECRET, code=code, now=moment)
    assert row.counter == seconds // 30


def test_a_password_alone_does_not_let_in(cast: Cast) -> None:
    """Neither the pages nor the API; then the code does, and leads on to where one wanted to go."""
    secret = set_up(cast.teacher)
    with time_machine.travel(NOW, tick=False):
        client = Client()
        where = reverse("student_list")
        values = {"username": "teacher", "password": PASSWORD, "next": where}
        assert client.post(reverse("sign_in"), values)["Location"] == reverse("sign_in_factor")
        assert not is_in(client)
        assert client.get(where).status_code == 302
        assert client.get(f"{API}/students/").status_code == 403
        answer = client.post(reverse("sign_in_factor"), {"code": pyotp.TOTP(secret).now()})
        assert answer["Location"] == where
        assert client.get(where).status_code == 200


def test_the_record_of_a_sign_in_says_the_second_step(cast: Cast) -> None:
    """OWASP ASVS 5.0, 16.3.1: with the type of authentication. The code itself is nowhere."""
    password_given()
    secret = set_up(cast.teacher)
    [kept, *_] = recovery_codes_make(actor=cast.teacher)
    with time_machine.travel(NOW, tick=False):
        for code in (pyotp.TOTP(secret).now(), kept):
            client = password_given()
            client.post(reverse("sign_in_factor"), {"code": code})
            assert is_in(client)
    told = list(Access.objects.filter(kind=Access.Kind.SIGNED_IN).order_by("pk").values_list("about", flat=True))
    assert [one.partition("second step: ")[2] for one in told] == ["none", APP_CODE, RECOVERY_CODE]


def test_a_code_works_once(cast: Cast) -> None:
    """RFC 6238, 5.2: the second try with the same code is refused; so is any code older than the last."""
    secret = set_up(cast.teacher)
    made = pyotp.TOTP(secret)
    assert code_take(person=cast.teacher, code=made.at(NOW), now=NOW)
    assert not code_take(person=cast.teacher, code=made.at(NOW), now=NOW)
    assert not code_take(person=cast.teacher, code=made.at(NOW - dt.timedelta(seconds=30)), now=NOW)
    assert code_take(person=cast.teacher, code=made.at(NOW + dt.timedelta(seconds=30)), now=NOW)


def test_a_clock_that_is_off_by_a_step_does(cast: Cast) -> None:
    """RFC 6238, 5.2: one step; not two."""
    made = pyotp.TOTP(set_up(cast.teacher))
    for seconds, taken in ((-60, False), (60, False), (-30, True), (30, True)):
        moment = NOW + dt.timedelta(seconds=seconds)
        assert code_take(person=cast.teacher, code=made.at(moment), now=NOW) == (APP_CODE if taken else "")


def test_wrong_codes_are_limited_like_wrong_passwords(cast: Cast) -> None:
    """Five, together with those of the password; then the right one isn't taken either."""
    secret = set_up(cast.teacher)
    with time_machine.travel(NOW, tick=False):
        client = password_given()
        factor = reverse("sign_in_factor")
        answers = [client.post(factor, {"code": "000000"}).status_code for _ in range(TOGETHER.tries)]
        assert answers == [200] * (TOGETHER.tries - 1) + [429]
        assert client.post(factor, {"code": pyotp.TOTP(secret).now()}).status_code == 429
        assert not is_in(client)


def test_a_right_password_waits_ten_minutes(cast: Cast) -> None:
    """Then it is asked again; and at once if it was changed meanwhile."""
    secret = set_up(cast.teacher)
    with time_machine.travel(NOW, tick=False) as clock:
        client = password_given()
        clock.shift(dt.timedelta(minutes=10, seconds=1))
        answer = client.post(reverse("sign_in_factor"), {"code": pyotp.TOTP(secret).now()})
        assert answer["Location"] == reverse("sign_in")
        other = password_given()
        cast.teacher.set_password("a-password-of-ones-own")
        cast.teacher.save()
        answer = other.post(reverse("sign_in_factor"), {"code": pyotp.TOTP(secret).now()})
        assert answer["Location"] == reverse("sign_in")


def test_a_recovery_code_works_once_however_it_is_typed(cast: Cast) -> None:
    """With other capitals, without hyphens; kept as hashes, in no way readable."""
    set_up(cast.teacher)
    codes = recovery_codes_make(actor=cast.teacher)
    assert len(set(codes)) == 10
    kept = " ".join(RecoveryCode.objects.values_list("digest", flat=True))
    assert not any(one in kept or one.replace("-", "") in kept for one in codes)
    first = password_given()
    assert first.post(reverse("sign_in_factor"), {"code": codes[0].upper().replace("-", " ")}).status_code == 302
    assert is_in(first)
    second = password_given()
    assert second.post(reverse("sign_in_factor"), {"code": codes[0]}).status_code == 200
    assert not is_in(second)
    assert not code_take(person=cast.mate, code=codes[1], now=NOW), "they are one person's"


def test_setting_up_by_the_page_asks_the_password_and_shows_recovery_codes_once(cast: Cast) -> None:
    """The secret stays the same until a right code came; it is sealed wherever it lies."""
    client = Client()
    client.force_login(cast.teacher)
    page = reverse("factor_codes")
    shown = client.get(page).content.decode()
    secret = re.search(r"<dt>Key</dt><dd><code>(\w+)</code>", shown)
    assert secret is not None
    values = {"name": "My phone", "password": PASSWORD}
    assert client.post(page, {**values, "code": "000000"}).status_code == 200
    code = pyotp.TOTP(secret[1]).now()
    assert client.post(page, {**values, "code": code, "password": "not-it"}).status_code == 200
    assert not SecondFactor.objects.exists()
    done = client.post(page, {**values, "code": code}).content.decode()
    assert len(re.findall(r"<li><code>[\w-]{14}</code></li>", done)) == 10
    row = SecondFactor.objects.get()
    assert secret[1] not in row.secret
    assert unseal(row.secret) == secret[1]
    assert AuditEntry.objects.filter(action="second_factor_add", actor=cast.teacher).exists()


def test_another_key_of_the_server_opens_no_secret(settings: pytest.FixtureRequest) -> None:
    """A stolen database tells no codes without the key beside it."""
    sealed = seal("JBSWY3DPEHPK3PXP")
    settings.SECRET_KEY = "another-key-altogether"  # type: ignore[attr-defined]  # pytest-django's
    assert unseal(sealed) is None


def test_removing_asks_the_password_and_is_ones_own(cast: Cast) -> None:
    """With the last one the recovery codes go."""
    set_up(cast.teacher)
    recovery_codes_make(actor=cast.teacher)
    row = SecondFactor.objects.get()
    client = Client()
    client.force_login(cast.teacher)
    address = f"{API}/second-factors/{row.pk}/remove/"
    assert client.post(address, {"password": "not-it"}, content_type="application/json").status_code == 400
    assert client.post(address, {"password": PASSWORD}, content_type="application/json").status_code == 204
    assert not SecondFactor.objects.exists()
    assert not RecoveryCode.objects.exists()


def test_a_coordinator_or_the_server_takes_a_lost_one_away(cast: Cast) -> None:
    """It is audited; nobody else can."""
    set_up(cast.teacher)
    client = Client()
    client.force_login(cast.mate)
    assert client.post(f"{API}/people/{cast.teacher.pk}/remove-second-factors/").status_code == 403
    client.force_login(cast.stranger)
    assert client.post(f"{API}/people/{cast.teacher.pk}/remove-second-factors/").status_code == 404
    person_factors_remove(actor=cast.coordinator, row=cast.teacher)
    assert AuditEntry.objects.filter(action="person_factors_remove", actor=cast.coordinator).count() == 1
    assert is_in(password_given())
    set_up(cast.coordinator)
    call_command("remove_second_factors", "Coordinator", stdout=StringIO())
    assert not SecondFactor.objects.exists()
    with pytest.raises(CommandError):
        call_command("remove_second_factors", "nobody-here")


def needed(district: District, day: dt.date | None, **roles: bool) -> SignInRules:
    """Rules of a district."""
    return SignInRules.objects.create(district=district, factor_first_day=day, **roles)


def test_who_needs_one_reaches_nothing_else_from_the_first_day_on(cast: Cast) -> None:
    """The day before everything opens; from then on only the pages that set one up, until there is one."""
    first = dt.date(2026, 10, 5)
    needed(cast.district, first, factor_teachers=True)
    with time_machine.travel(NOW - dt.timedelta(days=1), tick=False):
        assert password_given().get(reverse("student_list")).status_code == 200
    with time_machine.travel(NOW, tick=False):
        client = password_given()
        assert client.get(reverse("student_list"))["Location"] == reverse("own_sign_in")
        assert client.get(f"{API}/students/").json()["code"] == "second_factor_needed"
        assert "Set up a second step first" in client.get(reverse("own_sign_in")).content.decode()
        assert client.get(reverse("factor_codes")).status_code == 200
        secret = pyotp.random_base32()
        codes_factor_add(actor=cast.teacher, name="phone", secret=secret, code=pyotp.TOTP(secret).now(), now=NOW)
        assert client.get(reverse("student_list")).status_code == 200
        others = Client()
        others.force_login(cast.coordinator)
        assert others.get(reverse("student_list")).status_code == 200


def test_the_rules_are_the_coordinators_and_hang_together(cast: Cast) -> None:
    """Roles without a day, and a day without roles, are refused at the field."""
    client = Client()
    client.force_login(cast.coordinator)
    address = f"{API}/sign-in-rules/"

    def patch(**values: object) -> dict[str, object]:
        found: dict[str, object] = client.patch(address, values, content_type="application/json").json()
        return found

    assert client.get(address).json()["idle_minutes"] == 10_080
    assert list(patch(factor_teachers=True)["fields"]) == ["factor_first_day"]  # type: ignore[call-overload]
    assert patch(factor_teachers=True, factor_first_day="2026-11-02")["factor_teachers"] is True
    assert list(patch(factor_teachers=False)["fields"]) == ["factor_first_day"]  # type: ignore[call-overload]
    assert AuditEntry.objects.filter(action="sign_in_rules_save").count() == 1
    client.force_login(cast.teacher)
    assert client.get(address).status_code == 403


def test_a_code_that_is_no_code_is_refused_in_words(cast: Cast) -> None:
    """Other scripts' digits, too many, none."""
    for code in ("", "12345", "١٢٣٤٥٦", "1234567"):
        with pytest.raises(ValidationError):
            codes_factor_add(actor=cast.teacher, name="p", secret=RFC_SECRET, code=code, now=timezone.now())
