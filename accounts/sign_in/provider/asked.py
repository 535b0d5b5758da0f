"""Which provider signs people in, if any: what the settings say, and what is missing in them."""

import ipaddress
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings

FIELDS = ("email", "username")
SECRET_LEAST = 16
"""Letters of a client secret: a shorter one can be guessed (RFC 6749, 10.10, asks for 128 bits)."""


@dataclass(frozen=True, slots=True)
class Provider:
    """A provider and how its people are found here (docs/running.md, *One sign-in for the district*)."""

    issuer: str
    client_id: str
    client_secret: str
    label: str
    scopes: str
    claim: str
    field: str
    district: str
    second_step: frozenset[str]
    """Values of `amr` or `acr` that say that a second factor was asked (OpenID Connect Core 1.0, 2)."""

    @property
    def discovery(self) -> str:
        """Where it describes itself (OpenID Connect Discovery 1.0, 4)."""
        return self.issuer.rstrip("/") + "/.well-known/openid-configuration"


def provider_asked() -> Provider | None:
    """The provider of the settings; None where none is set up."""
    if not settings.OIDC_ISSUER:
        return None
    return Provider(
        issuer=settings.OIDC_ISSUER,
        client_id=settings.OIDC_CLIENT_ID,
        client_secret=settings.OIDC_CLIENT_SECRET,
        label=settings.OIDC_LABEL,
        scopes=settings.OIDC_SCOPES,
        claim=settings.OIDC_CLAIM,
        field=settings.OIDC_FIELD,
        district=settings.OIDC_DISTRICT,
        second_step=frozenset(settings.OIDC_SECOND_STEP),
    )


def passwords_open() -> bool:
    """Whether a name and a password let anybody in, beside the provider."""
    return bool(settings.OIDC_PASSWORDS) or not settings.OIDC_ISSUER


def is_safe(address: str) -> bool:
    """Whether nobody on the way reads or changes what goes there: HTTPS, or this very machine."""
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    return parts.scheme == "https" or (parts.scheme == "http" and _is_here(parts.hostname or ""))


def _is_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def faults_of(asked: Provider, site: str) -> Iterator[str]:
    """What is missing or wrong in the settings, in words; `site` is under which address this program is reached."""
    if not is_safe(asked.issuer):
        yield "OIDC_ISSUER isn't an https:// address."
    if not asked.client_id:
        yield "OIDC_CLIENT_ID is missing: the provider gives it to this program."
    if len(asked.client_secret) < SECRET_LEAST:
        yield f"OIDC_CLIENT_SECRET is missing or shorter than {SECRET_LEAST} letters."
    if "openid" not in asked.scopes.split():
        yield "OIDC_SCOPES lacks openid: without it the provider doesn't say who signed in."
    if asked.field not in FIELDS:
        yield f"OIDC_FIELD is none of {' and '.join(FIELDS)}."
    if not asked.claim:
        yield "OIDC_CLAIM is empty: nobody can be found by what the provider says."
    if not site:
        yield "SITE_ADDRESS is missing: the provider leads people back to it."
