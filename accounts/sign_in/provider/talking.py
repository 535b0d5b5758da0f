"""The conversation with a provider: there with state, nonce and a code challenge, back with a checked ID token.

Authlib speaks the protocol (RFC 6749, RFC 7636, OpenID Connect Core 1.0); what it leaves to its user is held here:
the issuer that answers is the one that was asked, nothing goes over an open line, and only signatures by the
provider's own key pair count. Neither a token nor what it says reaches a log.
"""

import time
from collections.abc import Mapping
from typing import Any

from authlib.common.errors import AuthlibBaseError
from authlib.integrations.base_client import MismatchingStateError
from authlib.integrations.django_client import OAuth
from django.http import HttpRequest, HttpResponse
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet
from joserfc.jws import JWSRegistry
from requests import RequestException, Session

from accounts.sign_in.provider.asked import Provider, is_safe
from accounts.sign_in.provider.said import session_named

SIGNED_BY = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")
"""Signatures by a key pair (RFC 7518, 3.1; RFC 8037). Never "none", and none by a secret that both know."""
USUAL = ["RS256"]
"""What each provider can (OpenID Connect Core 1.0, 15.1)."""
SIGNING = "id_token_signing_alg_values_supported"
LOGOUT_KIND, LOGOUT_EVENT = "logout+jwt", "http://schemas.openid.net/event/backchannel-logout"
LEEWAY = 60
"""Seconds by which the clocks of provider and server may differ."""
ANSWERS_WITHIN = 10
"""Seconds."""
KEPT = 300
"""Seconds for which what a provider says of itself is kept; its keys are asked for each time."""
MALFORMED = (ValueError, TypeError, KeyError)
"""What reading an answer raises that is no JSON, or other JSON than it should be."""
ENDPOINTS = ("authorization_endpoint", "token_endpoint", "jwks_uri")
_kept: dict[Provider, tuple[float, Any]] = {}


class ProviderError(Exception):
    """Signing in at the provider came to nothing; `code` says why (the page has the words)."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def _no_redirects(session: Session) -> None:
    """The secret goes to the token endpoint and nowhere else."""
    session.max_redirects = 0


def _client(asked: Provider) -> Any:
    """Authlib's client, knowing what the provider says of itself. Raises `ProviderError`."""
    at, client = _kept.get(asked, (0.0, None))
    if client is None or time.monotonic() - at > KEPT:
        client = _described(asked)
        _kept.clear()
        _kept[asked] = (time.monotonic(), client)
    return client


def _described(asked: Provider) -> Any:
    client = OAuth().register(
        "provider",
        client_id=asked.client_id,
        client_secret=asked.client_secret,
        server_metadata_url=asked.discovery,
        client_kwargs={
            "scope": asked.scopes,
            "code_challenge_method": "S256",
            "default_timeout": ANSWERS_WITHIN,
        },
        compliance_fix=_no_redirects,
    )
    try:
        told = client.load_server_metadata()
    except (RequestException, *MALFORMED) as error:
        raise ProviderError("away") from error
    _hold(asked, told)
    ways = told.get("token_endpoint_auth_methods_supported") or ["client_secret_basic"]
    if "client_secret_basic" not in ways:
        client.client_kwargs["token_endpoint_auth_method"] = "client_secret_post"  # noqa: S105 -- a name
    return client


def _hold(asked: Provider, told: dict[str, Any]) -> None:
    """It is the one that was asked, by HTTPS, and signs with a key pair. Raises `ProviderError`."""
    if told.get("issuer") != asked.issuer:  # Discovery 1.0, 4.3
        raise ProviderError("broken")
    if not all(isinstance(told.get(name), str) and is_safe(told[name]) for name in ENDPOINTS):
        raise ProviderError("broken")
    signed = [one for one in told.get(SIGNING) or USUAL if one in SIGNED_BY]
    if not signed:  # an empty list would mean the library's own choice
        raise ProviderError("broken")
    told[SIGNING] = signed


def leave_for(request: HttpRequest, asked: Provider, back: str, *, again: bool) -> HttpResponse:
    """To the provider's page. `back`: the address it leads back to; `again`: it asks even whom it knows.

    State, nonce and code verifier are kept in the session of this browser. Raises `ProviderError`.
    """
    client = _client(asked)
    more = {"prompt": "login", "max_age": "0"} if again else {}
    answer: HttpResponse = client.authorize_redirect(request, back, **more)
    return answer


def _issuer_require(request: HttpRequest, asked: Provider, told: Mapping[str, Any]) -> None:
    """The answer comes from whom was asked, where it says so (RFC 9207, 2.4)."""
    said = request.GET.get("iss")
    must = told.get("authorization_response_iss_parameter_supported") is True
    if said != asked.issuer and (must or said is not None):
        raise ProviderError("refused")


def claims_brought(request: HttpRequest, asked: Provider) -> Mapping[str, Any]:
    """What the ID token says that the provider hands out for what this request brings back.

    Its signature, issuer, audience, dates and nonce hold. Raises `ProviderError`.
    """
    client = _client(asked)
    _issuer_require(request, asked, client.server_metadata)
    if "error" in request.GET:  # by its own words, which nobody has checked and nobody is shown
        raise ProviderError("canceled")
    must = {
        "iss": {"essential": True, "value": asked.issuer},
        "aud": {"essential": True, "value": asked.client_id},
        "sub": {"essential": True},
    }
    client.server_metadata.pop("jwks", None)  # its keys as they are now: they change, and end, at any time
    try:
        token = client.authorize_access_token(request, claims_options=must, leeway=LEEWAY)
    except MismatchingStateError as error:
        raise ProviderError("stale") from error
    except (AuthlibBaseError, JoseError) as error:
        raise ProviderError("refused") from error
    except (RequestException, *MALFORMED) as error:
        raise ProviderError("away") from error
    claims = token.get("userinfo")
    if not isinstance(claims, Mapping) or not _is_subject(claims.get("sub")):
        raise ProviderError("refused")
    return claims


def _is_subject(value: object) -> bool:
    """At most 255 letters of ASCII (OpenID Connect Core 1.0, 2)."""
    return isinstance(value, str) and 0 < len(value) <= 255 and value.isascii() and value.isprintable()


def ended_there(asked: Provider, token: str) -> Mapping[str, Any]:
    """What a logout token says, by which a provider tells that somebody's sign-in there has ended.

    It is one (its kind, the event, no nonce), and its signature, issuer, audience and dates hold (Back-Channel
    Logout 1.0, 2.4 and 2.6). It names the account, a session there, or both. Raises `ProviderError`.
    """
    client = _client(asked)
    client.server_metadata.pop("jwks", None)
    try:
        keys = KeySet.import_key_set(client.fetch_jwk_set())
    except (RequestException, JoseError, *MALFORMED) as error:
        raise ProviderError("away") from error
    ways = JWSRegistry(algorithms=client.server_metadata[SIGNING], strict_check_header=False)
    try:
        read = jwt.decode(token, key=keys, registry=ways)
        _logout_claims(asked).validate(read.claims)
    except (JoseError, *MALFORMED) as error:
        raise ProviderError("refused") from error
    events = read.claims.get("events")
    is_one = str(read.header.get("typ")).lower() == LOGOUT_KIND and "nonce" not in read.claims
    is_told = isinstance(events, Mapping) and isinstance(events.get(LOGOUT_EVENT), Mapping)
    if not is_one or not is_told or not _names_somebody(read.claims):
        raise ProviderError("refused")
    return read.claims


def _names_somebody(claims: Mapping[str, Any]) -> bool:
    """Whose sign-in has ended: an account's, or that of one session (2.4: one of both at least)."""
    return _is_subject(claims["sub"]) if "sub" in claims else bool(session_named(claims))


def _logout_claims(asked: Provider) -> jwt.JWTClaimsRegistry:
    must: dict[str, Any] = {name: {"essential": True} for name in ("iat", "exp", "jti", "events")}
    must["iss"] = {"essential": True, "value": asked.issuer}
    must["aud"] = {"essential": True, "value": asked.client_id}
    return jwt.JWTClaimsRegistry(leeway=LEEWAY, **must)


def way_out(asked: Provider, back: str) -> str:
    """Where one ends the sign-in at the provider, too (RP-Initiated Logout 1.0); empty where it has no such page.

    The ID token isn't kept, so it isn't shown there: the provider asks the person instead. Raises `ProviderError`.
    """
    client = _client(asked)
    if not is_safe(client.server_metadata.get("end_session_endpoint") or ""):
        return ""
    made = client.create_logout_url(post_logout_redirect_uri=back, client_id=asked.client_id)
    return str(made["url"])
