"""Signing in at the district's provider, held against a real one on loopback (tests/provider_site.py).

What must be refused is listed by OpenID Connect Core 1.0, 3.1.3.7 (checks of an ID token), RFC 9700, 2.1 and 4
(state, code challenge, mix-up) and RFC 8725 (algorithms of tokens).
"""

import datetime as dt
import logging
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pyotp
import pytest
import time_machine
from django.contrib.auth import authenticate
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone
from pytest_django.fixtures import Settings

from accounts.models import AuditEntry, OpenSession, Person, ProviderAccount, SignInRules
from accounts.people.services import person_password_give
from accounts.sign_in.provider import talking
from accounts.sign_in.provider.checks import provider_is_whole
from accounts.sign_in.services.tries import failure_note
from caseload.access.models import Access
from config.running.redaction import without_addresses
from tests.accounts.test_second_factor import set_up
from tests.conftest import PASSWORD, Cast, date_there
from tests.provider_site import (
    SUBJECT,
    ProviderSite,
    honestly,
    provider_site,
    read_part,
    signed_by_another,
    signed_by_the_public_key,
    unsigned,
)

MAIL = "t.teacher@fallow.example"


@pytest.fixture(scope="module")
def running() -> Iterator[ProviderSite]:
    """One provider for the module."""
    with provider_site() as site:
        yield site


@pytest.fixture
def provider(running: ProviderSite, settings: Settings, cast: Cast) -> ProviderSite:
    """Honest again, with the teacher's account; the program is set up for it."""
    running.claims, running.described = {}, {}
    running.sign = honestly
    running.tokens.clear()
    running.person(email=MAIL, email_verified=True)
    talking._kept.clear()
    for name, value in running.settings().items():
        setattr(settings, name, value)
    settings.SITE_ADDRESS = "http://testserver"
    Person.objects.filter(pk=cast.teacher.pk).update(email=MAIL)
    return running


def leave(client: Client, **query: str) -> str:
    """Press the button; the provider's address that one is led to."""
    answer = client.get(reverse("provider"), query)
    assert answer.status_code == 302, answer.content
    return str(answer["Location"])


def through(client: Client, provider: ProviderSite, *, subject: str = SUBJECT, **query: str) -> Any:
    """There, signed in there, and back."""
    return client.get(provider.agree(leave(client, **query), subject))


def is_in(client: Client) -> bool:
    """Whether a session began."""
    return "_auth_user_id" in client.session


def test_it_leads_back_to_where_one_wanted_to_go(cast: Cast, provider: ProviderSite) -> None:
    """State, nonce, a challenge by SHA-256 and the least scopes go there; nothing of the tokens stays here."""
    client = Client()
    where = reverse("student_list")
    page = client.get(reverse("sign_in"), {"next": where}).content.decode()
    assert "Sign in with your district account" in page
    there = leave(client, next=where)
    asked = {name: values[0] for name, values in parse_qs(urlsplit(there).query).items()}
    assert asked["response_type"] == "code"
    assert asked["code_challenge_method"] == "S256"
    assert asked["scope"] == "openid email"
    assert min(len(asked["state"]), len(asked["nonce"])) >= 20
    assert asked["redirect_uri"] == "http://testserver/sign-in/provider/back/"
    assert client.get(provider.agree(there))["Location"] == where
    assert client.get(where).status_code == 200
    account = ProviderAccount.objects.get(person=cast.teacher)
    assert (account.issuer, account.subject) == (provider.address, SUBJECT)
    assert Access.objects.filter(person=cast.teacher, kind=Access.Kind.SIGNED_IN).count() == 1
    assert OpenSession.objects.filter(person=cast.teacher).count() == 1
    assert AuditEntry.objects.filter(action="provider_account_add", actor=cast.teacher).count() == 1
    kept = str(dict(client.session))
    assert provider.tokens
    assert not [token for token in provider.tokens if token in kept]


def test_nowhere_else(cast: Cast, provider: ProviderSite) -> None:
    """An address of somebody else's host isn't gone to (RFC 9700, 4.11.1)."""
    answer = through(Client(), provider, next="https://elsewhere.example/")
    assert answer["Location"] == reverse("home")


@pytest.mark.parametrize(
    ("claims", "sign"),
    [
        ({"nonce": "somebody-elses"}, None),
        ({"nonce": None}, None),
        ({"aud": "another-program"}, None),
        ({"aud": ["another-program"]}, None),
        ({"aud": None}, None),
        ({"azp": "another-program"}, None),
        ({"iss": "https://elsewhere.example"}, None),
        ({"iss": None}, None),
        ({"exp": 1_700_000_000}, None),
        ({"exp": None}, None),
        ({"iat": 32_503_680_000}, None),
        ({"sub": None}, None),
        ({"sub": ""}, None),
        ({"sub": "x" * 256}, None),
        ({"sub": 7}, None),
        ({"sub": "a\0b"}, None),
        ({"at_hash": "b2YgYW5vdGhlciB0b2tlbg"}, None),
        ({}, signed_by_another),
        ({}, unsigned),
        ({}, signed_by_the_public_key),
    ],
)
def test_what_does_not_hold_lets_nobody_in(
    cast: Cast, provider: ProviderSite, claims: dict[str, Any], sign: Any
) -> None:
    """Each check of the ID token by itself: the same account with an honest token gets in afterward."""
    provider.claims = claims
    provider.sign = sign or honestly
    client = Client()
    answer = through(client, provider)
    assert answer.status_code == 403
    assert "doesn&#x27;t hold" in answer.content.decode()
    assert not is_in(client)
    assert not ProviderAccount.objects.exists()
    provider.claims, provider.sign = {}, honestly
    assert through(client, provider).status_code == 302
    assert is_in(client)


def changed(address: str, **query: str) -> str:
    """The address with other parts of its query."""
    asked = {**{name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}, **query}
    return address.partition("?")[0] + "?" + "&".join(f"{name}={value}" for name, value in asked.items() if value)


def test_the_state_is_of_this_browser(cast: Cast, provider: ProviderSite) -> None:
    """Another state, none, another browser's, and the same one twice (RFC 9700, 4.7)."""
    client = Client()
    for state in ("another", ""):
        back = provider.agree(leave(client))
        answer = client.get(changed(back, state=state))
        assert answer.status_code == 403
        assert "too long" in answer.content.decode()
    back = provider.agree(leave(client))
    assert Client().get(back).status_code == 403
    assert client.get(back).status_code == 302
    Client().get(reverse("sign_out"))
    assert client.get(back).status_code == 403


def test_a_code_of_somebody_else_is_refused(cast: Cast, provider: ProviderSite) -> None:
    """A code that was caught on its way and brought with one's own state (RFC 9700, 4.5): the challenge differs."""
    caught = parse_qs(urlsplit(provider.agree(leave(Client()))).query)["code"][0]
    thief = Client()
    answer = thief.get(changed(provider.agree(leave(thief), "account-2"), code=caught))
    assert answer.status_code == 403
    assert not is_in(thief)


def test_an_answer_of_another_issuer_is_refused(cast: Cast, provider: ProviderSite) -> None:
    """RFC 9207, 2.4: where it says who it is from, or must."""
    client = Client()
    assert client.get(changed(provider.agree(leave(client)), iss="https://elsewhere.example")).status_code == 403
    provider.described = {"authorization_response_iss_parameter_supported": True}
    talking._kept.clear()
    assert through(client, provider).status_code == 403
    assert client.get(changed(provider.agree(leave(client)), iss=provider.address)).status_code == 302


def test_stopped_at_the_provider(cast: Cast, provider: ProviderSite) -> None:
    """Told in our words: what stands in the address may be anybody's."""
    client = Client()
    back = changed(provider.agree(leave(client), action="deny"), error_description="call-this-number")
    answer = client.get(back)
    assert answer.status_code == 403
    page = answer.content.decode()
    assert "was stopped there" in page
    assert "call-this-number" not in page
    assert reverse("provider") in page
    assert reverse("sign_in") in page


@pytest.mark.parametrize(
    ("account", "code"),
    [
        ({"email": "nobody@fallow.example", "email_verified": True}, "nobody here has it"),
        ({"email": MAIL, "email_verified": False}, "verified your mail address"),
        ({"email": MAIL}, "verified your mail address"),
        ({}, "which of the people here you are"),
    ],
)
def test_nobody_is_made(cast: Cast, provider: ProviderSite, account: dict[str, Any], code: str) -> None:
    """Only who is among the people of the district already gets in; the page says whom to ask."""
    before = Person.objects.count()
    provider.person("account-3", **account)
    client = Client()
    answer = through(client, provider, subject="account-3")
    assert answer.status_code == 403
    assert code in answer.content.decode()
    assert not is_in(client)
    assert Person.objects.count() == before


def test_who_may_not_sign_in_does_not_by_the_provider(
    cast: Cast, provider: ProviderSite, settings: Settings
) -> None:
    """Deactivated, of a district that the provider isn't for, or one of two with that address."""
    client = Client()
    Person.objects.filter(pk=cast.teacher.pk).update(is_active=False)
    assert through(client, provider).status_code == 403
    Person.objects.filter(pk=cast.teacher.pk).update(is_active=True)
    settings.OIDC_DISTRICT = "Another District"
    assert through(client, provider).status_code == 403
    assert cast.teacher.district is not None
    settings.OIDC_DISTRICT = cast.teacher.district.name
    Person.objects.filter(pk=cast.mate.pk).update(email=MAIL.upper())
    answer = through(client, provider)
    assert "Two people here" in answer.content.decode()
    Person.objects.filter(pk=cast.mate.pk).update(email="")
    assert through(client, provider).status_code == 302


def test_a_username_as_the_claim(cast: Cast, provider: ProviderSite, settings: Settings) -> None:
    """Another claim, held against another field."""
    settings.OIDC_CLAIM, settings.OIDC_FIELD, settings.OIDC_SCOPES = (
        "preferred_username",
        "username",
        "openid profile",
    )
    provider.person("account-4", preferred_username="teacher")
    client = Client()
    assert through(client, provider, subject="account-4").status_code == 302
    assert client.session["_auth_user_id"] == str(cast.teacher.pk)


def test_a_mail_address_that_is_given_to_somebody_else(cast: Cast, provider: ProviderSite) -> None:
    """Issuer and subject name somebody, a mail address doesn't (OpenID Connect Core 1.0, 5.7)."""
    assert through(Client(), provider).status_code == 302
    provider.person(email="a-new-name@fallow.example", email_verified=True)
    client = Client()
    assert through(client, provider).status_code == 302
    assert client.session["_auth_user_id"] == str(cast.teacher.pk)
    provider.person("account-5", email=MAIL, email_verified=True)
    answer = through(Client(), provider, subject="account-5")
    assert answer.status_code == 403
    assert "another district account" in answer.content.decode()

    page = reverse("person_account", args=[cast.teacher.pk])
    for who, status in ((cast.teacher, 403), (cast.stranger, 404), (cast.coordinator, 302)):
        browser = Client()
        browser.force_login(who, backend="accounts.sign_in.backends.PasswordBackend")
        assert browser.post(page).status_code == status
    assert AuditEntry.objects.filter(action="provider_account_forget", actor=cast.coordinator).count() == 1
    assert through(Client(), provider, subject="account-5").status_code == 302


def test_an_account_of_another_provider_ends(cast: Cast, provider: ProviderSite) -> None:
    """The district has moved to another: the claim finds people once more."""
    ProviderAccount.objects.create(person=cast.teacher, issuer="https://before.example", subject="old")
    assert through(Client(), provider).status_code == 302
    assert ProviderAccount.objects.get(person=cast.teacher).issuer == provider.address


@pytest.mark.parametrize(
    "described",
    [
        {"issuer": "https://elsewhere.example"},
        {"token_endpoint": "http://elsewhere.example/token"},
        {"jwks_uri": None},
        {"id_token_signing_alg_values_supported": ["none"]},
        {"id_token_signing_alg_values_supported": ["HS256"]},
    ],
)
def test_a_provider_that_is_not_the_one(cast: Cast, provider: ProviderSite, described: dict[str, Any]) -> None:
    """OpenID Connect Discovery 1.0, 4.3; RFC 9700, 2.6 (no open lines); RFC 8725, 3.1 (algorithms)."""
    provider.described = described
    answer = Client().get(reverse("provider"))
    assert answer.status_code == 503
    assert "Tell whoever runs this site" in answer.content.decode()


def test_a_provider_that_is_away(cast: Cast, provider: ProviderSite, settings: Settings) -> None:
    """A reason and a way on, there and on the way back."""
    client = Client()
    back = provider.agree(leave(client))
    settings.OIDC_ISSUER = "http://localhost:9"
    for address in (reverse("provider"), back):
        answer = client.get(address)
        assert answer.status_code == 503
        assert answer["Retry-After"] == "60"
        assert "try again in a minute" in answer.content.decode()


def test_a_provider_that_talks_nonsense(cast: Cast, provider: ProviderSite) -> None:
    """A page where keys should be, as when a proxy in between is broken: told as away, nobody is let in."""
    provider.described = {"jwks_uri": f"{provider.address}/"}
    client = Client()
    assert through(client, provider).status_code == 503
    provider.described = {"jwks_uri": f"{provider.address}/.well-known/openid-configuration"}
    talking._kept.clear()
    assert through(client, provider).status_code == 503
    assert not is_in(client)


def test_a_provider_with_a_new_key(cast: Cast, provider: ProviderSite) -> None:
    """Keys change while the program runs (OpenID Connect Core 1.0, 10.1.1): the new one counts at once."""
    assert through(Client(), provider).status_code == 302
    provider.takes_new_key = True
    assert through(Client(), provider).status_code == 302


def test_nothing_of_it_reaches_the_log(
    cast: Cast, provider: ProviderSite, caplog: pytest.LogCaptureFixture
) -> None:
    """Neither tokens, codes nor claims, at the levels that the program writes."""
    caplog.set_level(logging.DEBUG, logger="accounts")
    caplog.set_level(logging.INFO)
    client = Client()
    back = provider.agree(leave(client))
    client.get(back)
    provider.claims = {"nonce": "another"}
    through(Client(), provider)
    query = parse_qs(urlsplit(back).query)
    line = f'127.0.0.1 "GET {back.removeprefix("http://testserver")} HTTP/1.1" 302'  # as servers log it
    assert query["code"][0] in line
    assert not [one for one in (query["code"][0], query["state"][0]) if one in without_addresses(line)]
    ours = [one for one in caplog.records if one.name not in {"werkzeug", "oidc_provider_mock"}]
    said = " ".join(caplog.handler.format(one) for one in ours)
    assert "let nobody in: refused" in said
    assert not [
        one for one in (*provider.tokens, query["code"][0], query["state"][0], MAIL, SUBJECT) if one in said
    ]


def test_too_many_from_one_address_wait(cast: Cast, provider: ProviderSite) -> None:
    """As for passwords, 100 a day from one address; other people of the school are let in until then."""
    provider.person("account-6", email="nobody@fallow.example", email_verified=True)
    client = Client()
    for _ in range(6):
        assert through(client, provider, subject="account-6").status_code == 403
    assert through(Client(), provider).status_code == 302
    for _ in range(94):
        failure_note(name="somebody", address="127.0.0.1", known=False, now=timezone.now())
    answer = client.get(reverse("provider"))
    assert answer.status_code == 429
    assert "Retry-After" in answer


def test_passwords_can_be_closed(cast: Cast, provider: ProviderSite, settings: Settings) -> None:
    """The form is gone, and a form of one's own is refused."""
    settings.OIDC_PASSWORDS = False
    client = Client()
    assert 'name="password"' not in client.get(reverse("sign_in")).content.decode()
    answer = client.post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert answer["Location"] == reverse("sign_in")
    assert not is_in(client)
    request = RequestFactory().post(reverse("sign_in"))
    assert authenticate(request, username="teacher", password=PASSWORD) is None
    assert through(client, provider).status_code == 302
    settings.OIDC_ISSUER = ""
    client = Client()
    client.post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert is_in(client)


def test_without_the_setting_there_is_none(cast: Cast, settings: Settings) -> None:
    """Neither the button nor the addresses."""
    settings.OIDC_ISSUER = ""
    client = Client()
    assert "district account" not in client.get(reverse("sign_in")).content.decode()
    for name in ("provider", "provider_back", "signed_out"):
        assert client.get(reverse(name)).status_code == 404


def test_signing_out_says_what_is_left(cast: Cast, provider: ProviderSite) -> None:
    """RP-Initiated Logout 1.0, 2: by the program's id, without a token in the address."""
    client = Client()
    through(client, provider)
    answer = client.post(reverse("sign_out"), follow=True)
    assert not is_in(client)
    page = answer.content.decode().replace("&amp;", "&")
    assert f'href="{provider.address}/oauth2/end_session?' in page
    assert f"client_id={provider.client_id}" in page
    assert "id_token_hint" not in page
    provider.described = {"end_session_endpoint": None}
    talking._kept.clear()
    assert "end_session" not in client.get(reverse("signed_out")).content.decode()


def test_a_session_ends_when_it_is_not_used(cast: Cast, provider: ProviderSite) -> None:
    """After seven days, the district's time while it has said nothing; on a shared computer after 15 minutes."""
    for query, after in (({}, 7 * 24 * 3600), ({"shared": "1"}, 900)):
        client = Client()
        through(client, provider, **query)
        if query:
            assert client.session.get_expire_at_browser_close()
        where = reverse("student_list")
        now = time.time()
        with time_machine.travel(now + 61):
            assert client.get(where).status_code == 200
        with time_machine.travel(now + 61 + after - 5):
            assert client.get(where).status_code == 200
        with time_machine.travel(now + 61 + 2 * after + 60):
            assert client.get(where).status_code == 302


def test_our_second_step_is_asked_unless_the_provider_has_asked_one(
    cast: Cast, provider: ProviderSite, settings: Settings
) -> None:
    """By the values of `amr` (RFC 8176) or `acr` that the settings name; other values say nothing."""
    secret = set_up(cast.teacher, now=timezone.now())
    settings.OIDC_SECOND_STEP = ["mfa", "https://levels.example/2"]
    for said in ({}, {"amr": ["pwd"]}, {"acr": "1"}):
        provider.claims = said
        client = Client()
        where = reverse("student_list")
        assert through(client, provider, next=where)["Location"] == reverse("sign_in_factor")
        assert not is_in(client)
    page = client.get(reverse("sign_in_factor")).content.decode()
    assert "Your district account is right" in page
    assert client.post(reverse("sign_in_factor"), {"code": "000000"}).status_code == 200
    assert not is_in(client)
    assert client.post(reverse("sign_in_factor"), {"code": pyotp.TOTP(secret).now()})["Location"] == where
    assert client.get(where).status_code == 200
    for said in ({"amr": ["pwd", "mfa"]}, {"acr": "https://levels.example/2"}):
        provider.claims = said
        client = Client()
        assert through(client, provider, next=where)["Location"] == where
        assert is_in(client)
    settings.OIDC_SECOND_STEP = []
    assert through(Client(), provider)["Location"] == reverse("sign_in_factor")


def test_a_second_step_that_the_district_asks_for(cast: Cast, provider: ProviderSite, settings: Settings) -> None:
    """The provider's counts; without one, ours is set up first, with the provider in place of a password."""
    settings.OIDC_SECOND_STEP = ["mfa"]
    values = {"factor_teachers": True, "factor_first_day": date_there()}
    SignInRules.objects.create(district=cast.district, **values)
    provider.claims = {"amr": ["mfa"]}
    client, where = Client(), reverse("student_list")
    through(client, provider)
    assert client.get(where).status_code == 200
    with time_machine.travel(time.time() + 120):
        assert client.get(where).status_code == 200
    provider.claims = {}
    client = Client()
    through(client, provider)
    assert client.get(where)["Location"] == reverse("own_sign_in")
    page = client.get(reverse("factor_codes"))
    secret = page.context["secret"]
    form = {"name": "phone", "code": pyotp.TOTP(secret).now()}
    assert "recovery codes" in client.post(reverse("factor_codes"), form).content.decode()
    assert client.get(where).status_code == 200


def test_who_changes_how_to_sign_in_has_just_signed_in(cast: Cast, provider: ProviderSite) -> None:
    """Ten minutes; later, or where the provider let somebody in whom it knew for longer, it is asked again."""
    now = time.time()
    client = Client()
    through(client, provider)
    form = {"name": "phone"}

    def tried() -> str:
        secret = client.get(reverse("factor_codes")).context["secret"]
        answer = client.post(reverse("factor_codes"), {**form, "code": pyotp.TOTP(secret).now()})
        return str(answer.content.decode())

    with time_machine.travel(now + 700):
        said = tried()
        assert "too long ago for this" in said
        assert "again=1" in said
        there = leave(client, again="1", next=reverse("factor_codes"))
        assert "prompt=login" in there
        assert "max_age=0" in there
        provider.claims = {"auth_time": int(now) - 3600}
        client.get(provider.agree(there))
        assert "too long ago for this" in tried()
        provider.claims = {"auth_time": int(now) + 690}
        answer = client.get(provider.agree(leave(client, again="1", next=reverse("factor_codes"))))
        assert answer["Location"] == reverse("factor_codes")
        assert "recovery codes" in tried()


def test_a_given_password_that_is_never_used(cast: Cast, provider: ProviderSite) -> None:
    """Whoever comes by the provider needs none: nothing leads to changing it, and its end ends no session."""
    person_password_give(actor=cast.coordinator, row=cast.teacher)
    client = Client()
    through(client, provider)
    where = reverse("student_list")
    assert client.get(where).status_code == 200
    ended = timezone.now() - dt.timedelta(days=1)
    Person.objects.filter(pk=cast.teacher.pk).update(given_password_ends=ended)
    assert client.get(where).status_code == 200


# ---- the provider says that a sign-in there has ended ----------------------------------------------------


def logout_token(provider: ProviderSite, header: dict[str, Any] | None = None, **claims: Any) -> str:
    """As Back-Channel Logout 1.0, 2.4, writes it; None takes a claim out."""
    now = int(time.time())
    said = {
        "iss": provider.address,
        "sub": SUBJECT,
        "aud": [provider.client_id],
        "iat": now,
        "exp": now + 120,
        "jti": "logout-1",
        "events": {"http://schemas.openid.net/event/backchannel-logout": {}},
        **claims,
    }
    told = {name: value for name, value in said.items() if value is not None}
    return provider.signed(told, {"typ": "logout+jwt", **(header or {})})


def ended(provider: ProviderSite, token: str) -> int:
    """The provider's server tells it; the answer's status."""
    return Client(enforce_csrf_checks=True).post(reverse("provider_ended"), {"logout_token": token}).status_code


def test_a_sign_in_that_ends_there_ends_here(cast: Cast, provider: ProviderSite) -> None:
    """Each session that began by it; one by a password stays, and so does a sign-in after it (2.7)."""
    first, second, by_password = Client(), Client(), Client()
    for client in (first, second):
        through(client, provider)
    by_password.post(reverse("sign_in"), {"username": "teacher", "password": PASSWORD})
    assert ended(provider, logout_token(provider)) == 200
    pages = [client.get(reverse("student_list")).status_code for client in (first, second, by_password)]
    assert pages == [302, 302, 200]
    assert OpenSession.objects.filter(person=cast.teacher).count() == 1
    assert AuditEntry.objects.filter(action="session_end").count() == 2
    old = logout_token(provider, iat=int(time.time()) - 90)
    through(first, provider)
    assert ended(provider, old) == 200
    assert first.get(reverse("student_list")).status_code == 200
    assert ended(provider, logout_token(provider, sub="nobody-here")) == 200


def test_only_the_session_that_is_named_ends(cast: Cast, provider: ProviderSite) -> None:
    """Where the provider names its sessions (`sid`, 2.1)."""
    clients = {name: Client() for name in ("desk", "phone")}
    for name, client in clients.items():
        provider.claims = {"sid": name}
        through(client, provider)
    assert ended(provider, logout_token(provider, sid="phone")) == 200
    assert clients["desk"].get(reverse("student_list")).status_code == 200
    assert clients["phone"].get(reverse("student_list")).status_code == 302


def test_a_session_alone_says_whose_it_is(cast: Cast, provider: ProviderSite) -> None:
    """A logout token needs the account or the session (2.4): that very one ends, none that wasn't named there."""
    unnamed, desk, phone = Client(), Client(), Client()
    through(unnamed, provider)
    for name, client in (("desk", desk), ("phone", phone)):
        provider.claims = {"sid": name}
        through(client, provider)
    assert ended(provider, logout_token(provider, sub=None, sid="elsewhere")) == 200
    assert ended(provider, logout_token(provider, sub=None, sid="phone")) == 200
    pages = [client.get(reverse("student_list")).status_code for client in (unnamed, desk, phone)]
    assert pages == [200, 200, 302]


@pytest.mark.parametrize(
    ("header", "claims"),
    [
        ({"typ": "JWT"}, {}),
        ({"typ": None}, {}),
        ({}, {"nonce": "n"}),
        ({}, {"events": None}),
        ({}, {"events": {}}),
        ({}, {"events": {"http://schemas.openid.net/event/backchannel-logout": "yes"}}),
        ({}, {"events": "http://schemas.openid.net/event/backchannel-logout"}),
        ({}, {"iss": "https://elsewhere.example"}),
        ({}, {"aud": ["another-program"]}),
        ({}, {"aud": None}),
        ({}, {"exp": 1_700_000_000}),
        ({}, {"exp": None}),
        ({}, {"iat": 32_503_680_000}),
        ({}, {"iat": None}),
        ({}, {"jti": None}),
        ({}, {"sub": None}),
        ({}, {"sub": None, "sid": ""}),
        ({}, {"sub": None, "sid": 7}),
        ({}, {"sub": "", "sid": "desk"}),
    ],
)
def test_a_word_that_does_not_hold_ends_nothing(
    cast: Cast, provider: ProviderSite, header: dict[str, Any], claims: dict[str, Any]
) -> None:
    """Back-Channel Logout 1.0, 2.6; that it is typed, RFC 8725, 3.11."""
    client = Client()
    through(client, provider)
    assert ended(provider, logout_token(provider, header, **claims)) == 400
    assert client.get(reverse("student_list")).status_code == 200


def test_a_word_of_somebody_else_ends_nothing(cast: Cast, provider: ProviderSite) -> None:
    """Another's key, no signature, an ID token, no token; too many of an address wait like any other try."""
    client = Client()
    through(client, provider)
    claims = read_part(logout_token(provider).split(".")[1])
    id_token = provider.tokens[0]
    forged = [signed_by_another(claims, provider.key()), unsigned(claims, provider.key()), id_token, "no.token", ""]
    assert [ended(provider, one) for one in forged] == [400] * 5
    assert client.get(reverse("student_list")).status_code == 200
    assert Client().get(reverse("provider_ended")).status_code == 405
    for _ in range(100):
        failure_note(name="anybody", address="127.0.0.1", known=False, now=timezone.now())
    assert ended(provider, logout_token(provider)) == 429


def test_the_check_names_what_is_missing(settings: Settings) -> None:
    """`check --deploy`, for a whole set-up, and for one of which each line is wrong."""
    settings.OIDC_ISSUER, settings.OIDC_CLIENT_ID = "https://id.fallow.example", "program"
    settings.OIDC_CLIENT_SECRET, settings.SITE_ADDRESS = "x" * 32, "https://plan.fallow.example"
    assert provider_is_whole(app_configs=None) == []
    settings.OIDC_ISSUER, settings.OIDC_CLIENT_ID = "http://id.fallow.example", ""
    settings.OIDC_CLIENT_SECRET, settings.OIDC_SCOPES, settings.SITE_ADDRESS = "short", "email", ""
    settings.OIDC_FIELD, settings.OIDC_CLAIM = "first_name", ""
    said = " ".join(one.msg for one in provider_is_whole(app_configs=None))
    names = ("ISSUER", "CLIENT_ID", "CLIENT_SECRET", "SCOPES", "FIELD", "CLAIM")
    assert [name for name in names if f"OIDC_{name} " not in said] == []
    assert "SITE_ADDRESS" in said
    settings.OIDC_ISSUER, settings.OIDC_PASSWORDS = "", False
    assert "OIDC_PASSWORDS" in provider_is_whole(app_configs=None)[0].msg
