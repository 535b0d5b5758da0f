"""What is asked of a browser about passkeys, and what it answered (WebAuthn Level 2), by the library `webauthn`."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url, parse_authentication_credential_json
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from accounts.models import Person, SecondFactor

NAME = "Minutes & Miles"
REFUSED = "This passkey didn't work here. Try it again, or use another way."


class PasskeyError(Exception):
    """What the browser answered doesn't hold."""


@dataclass(frozen=True, slots=True)
class PasskeyAsked:
    """What the page hands to the browser, as JSON, and the challenge that the answer must sign."""

    options: str
    challenge: str


@dataclass(frozen=True, slots=True)
class Registered:
    """A new passkey: its id and public key in base64url, and its count of uses."""

    credential: str
    public_key: str
    counter: int


def _party(site: str) -> str:
    """The relying party's id: the host of the site."""
    return urlsplit(site).hostname or ""


def _known(rows: Iterable[SecondFactor]) -> list[PublicKeyCredentialDescriptor]:
    return [PublicKeyCredentialDescriptor(id=base64url_to_bytes(one.credential)) for one in rows if one.credential]


def registration_ask(person: Person, rows: Iterable[SecondFactor], site: str) -> PasskeyAsked:
    """Ask for a new passkey; one that is there already isn't offered again. The person is told by number alone."""
    options = generate_registration_options(
        rp_id=_party(site),
        rp_name=NAME,
        user_id=f"person-{person.pk}".encode(),
        user_name=person.username,
        user_display_name=person.username,
        exclude_credentials=_known(rows),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.DISCOURAGED, user_verification=UserVerificationRequirement.PREFERRED
        ),
    )
    return PasskeyAsked(options_to_json(options), bytes_to_base64url(options.challenge))


def registration_read(answer: str, challenge: str, site: str) -> Registered:
    """The new passkey. Raises `PasskeyError`."""
    with _refusing():
        found = verify_registration_response(**_expected(answer, challenge, site))
    key = bytes_to_base64url(found.credential_public_key)
    return Registered(bytes_to_base64url(found.credential_id), key, found.sign_count)


def entry_ask(rows: Iterable[SecondFactor], site: str) -> PasskeyAsked:
    """Ask for one of somebody's passkeys."""
    options = generate_authentication_options(
        rp_id=_party(site), allow_credentials=_known(rows), user_verification=UserVerificationRequirement.PREFERRED
    )
    return PasskeyAsked(options_to_json(options), bytes_to_base64url(options.challenge))


def entry_credential(answer: str) -> str:
    """Which passkey an answer is of. Raises `PasskeyError`."""
    with _refusing():
        return bytes_to_base64url(parse_authentication_credential_json(answer).raw_id)


def entry_read(answer: str, challenge: str, row: SecondFactor, site: str) -> int:
    """The passkey's count of uses, if the answer is signed by it. Raises `PasskeyError`."""
    with _refusing():
        found = verify_authentication_response(
            **_expected(answer, challenge, site),
            credential_public_key=base64url_to_bytes(row.secret),
            credential_current_sign_count=row.counter,
        )
    return found.new_sign_count


@contextmanager
def _refusing() -> Iterator[None]:
    """What the library refuses, or can't read, is refused in words."""
    try:
        yield
    except (WebAuthnException, ValueError) as error:
        raise PasskeyError(REFUSED) from error


def _expected(answer: str, challenge: str, site: str) -> dict[str, Any]:
    """What both kinds of answers are held against."""
    return {
        "credential": answer,
        "expected_challenge": base64url_to_bytes(challenge),
        "expected_rp_id": _party(site),
        "expected_origin": site,
    }
