"""A provider of sign-ins on loopback: oidc-provider-mock, with real codes, keys and signatures over HTTP.

What it lacks is added here: it holds the code challenge (RFC 7636, 4.6), and a test may have it hand out what no
honest provider does, or describe itself wrongly.
"""

import base64
import hashlib
import hmac
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qs, urlsplit

import flask
import oidc_provider_mock
import requests
from joserfc import jwt
from joserfc.jwk import RSAKey
from oidc_provider_mock import User
from werkzeug.serving import make_server

BACK = "http://testserver/sign-in/provider/back/"
SUBJECT = "account-1"


def part(data: dict[str, Any]) -> str:
    """One part of a token (RFC 7515, 2)."""
    return base64.urlsafe_b64encode(json.dumps(data).encode()).rstrip(b"=").decode()


def read_part(text: str) -> dict[str, Any]:
    """What one part of a token says."""
    found: dict[str, Any] = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    return found


def unsigned(claims: dict[str, Any], _key: RSAKey) -> str:
    """With the algorithm “none” (RFC 7519, 6)."""
    return f"{part({'alg': 'none'})}.{part(claims)}."


def signed_by_the_public_key(claims: dict[str, Any], key: RSAKey) -> str:
    """HMAC with the published key as its secret: taken by whoever lets the token choose (RFC 8725, 2.1)."""
    said = f"{part({'alg': 'HS256', 'typ': 'JWT'})}.{part(claims)}"
    made = hmac.digest(key.as_pem(private=False), said.encode(), "sha256")
    return f"{said}.{base64.urlsafe_b64encode(made).rstrip(b'=').decode()}"


def signed_by_another(claims: dict[str, Any], key: RSAKey) -> str:
    """By a key that the provider doesn't have, under the name of its own."""
    return jwt.encode({"alg": "RS256", "kid": key.kid}, claims, RSAKey.generate_key(2048, private=True))


def honestly(claims: dict[str, Any], key: RSAKey) -> str:
    """As it should be."""
    return jwt.encode({"alg": "RS256", "kid": key.kid}, claims, key)


@dataclass
class ProviderSite:
    """A running provider, the client that it knows, and how it is bent."""

    address: str = ""
    client_id: str = ""
    client_secret: str = ""
    claims: dict[str, Any] = field(default_factory=dict)
    """Changes of the ID token; None takes a claim out."""
    sign: Callable[[dict[str, Any], RSAKey], str] = honestly
    described: dict[str, Any] = field(default_factory=dict)
    """Changes of what it says of itself."""
    takes_new_key: bool = False
    """With the next request."""
    challenges: dict[str, str] = field(default_factory=dict)
    held: RSAKey | None = None
    """By which it signed last."""
    tokens: list[str] = field(default_factory=list)
    """All that was handed out."""

    def person(self, subject: str = SUBJECT, **claims: Any) -> None:
        """An account there."""
        answer = requests.put(f"{self.address}/users/{subject}", json=claims, timeout=10)
        assert answer.status_code == 204, answer.text

    def agree(self, location: str, subject: str = SUBJECT, action: str = "authorize") -> str:
        """Somebody signs in there, as the address asks; where they are led."""
        form = {"sub": subject, "action": action}
        answer = requests.post(location, data=form, allow_redirects=False, timeout=10)
        assert answer.status_code == 302, answer.text
        return answer.headers["Location"]

    def key(self) -> RSAKey:
        """The key by which it signs just now."""
        assert self.held is not None, "nobody has asked it anything yet"
        return self.held

    def signed(self, claims: dict[str, Any], header: dict[str, Any]) -> str:
        """What it tells this program by itself, such as that a sign-in has ended."""
        key = self.key()
        told = {name: value for name, value in header.items() if value is not None}
        return jwt.encode({"alg": "RS256", "kid": key.kid, **told}, claims, key)

    def register(self, back: str) -> None:
        """Make this program known (OpenID Connect Dynamic Client Registration 1.0)."""
        answer = requests.post(f"{self.address}/oauth2/clients", json={"redirect_uris": [back]}, timeout=10).json()
        self.client_id, self.client_secret = answer["client_id"], answer["client_secret"]

    def settings(self) -> dict[str, Any]:
        """As the program is set up for it."""
        return {
            "OIDC_ISSUER": self.address,
            "OIDC_CLIENT_ID": self.client_id,
            "OIDC_CLIENT_SECRET": self.client_secret,
        }

    def changed_token(self, token: str, key: RSAKey) -> str:
        """The token as it is bent."""
        claims = {**read_part(token.split(".")[1]), **self.claims}
        return self.sign({name: value for name, value in claims.items() if value is not None}, key)


def _hold_challenges(app: flask.Flask, site: ProviderSite) -> None:
    @app.before_request
    def ask() -> Any:
        request = flask.request
        if site.takes_new_key:
            flask.g.oidc_provider_mock_storage.jwk = RSAKey.generate_key(2048, private=True)
            site.takes_new_key = False
        site.held = flask.g.oidc_provider_mock_storage.jwk
        if request.path == "/oauth2/authorize":
            assert request.args.get("code_challenge_method") == "S256"
            assert len(request.args["code_challenge"]) == 43  # RFC 7636, 4.2: a SHA-256 in base64url
        if request.path == "/oauth2/token":
            made = hashlib.sha256(request.form.get("code_verifier", "").encode()).digest()
            challenge = base64.urlsafe_b64encode(made).rstrip(b"=").decode()
            if site.challenges.get(request.form["code"]) != challenge:
                return {"error": "invalid_grant"}, 400
        return None


def _bend(app: flask.Flask, site: ProviderSite) -> None:
    @app.after_request
    def change(answer: flask.Response) -> flask.Response:
        path = flask.request.path
        if path == "/oauth2/authorize" and answer.status_code == 302:
            codes = parse_qs(urlsplit(answer.headers["Location"]).query).get("code", [])
            site.challenges.update(dict.fromkeys(codes, flask.request.args["code_challenge"]))
        elif path == "/.well-known/openid-configuration":
            answer.set_data(json.dumps({**json.loads(answer.get_data()), **site.described}))
        elif path == "/oauth2/token" and answer.status_code == 200:
            told = json.loads(answer.get_data())
            key = flask.g.oidc_provider_mock_storage.jwk
            told["id_token"] = site.changed_token(told["id_token"], key)
            site.tokens += [told["id_token"], told["access_token"]]
            answer.set_data(json.dumps(told))
        return answer


@contextmanager
def provider_site(back: str = BACK) -> Iterator[ProviderSite]:
    """A provider that knows this program and an account of the teacher's mail address."""
    site = ProviderSite()
    app = oidc_provider_mock.app(
        require_client_registration=True, require_nonce=True, user_claims=[User(sub=SUBJECT)]
    )
    _hold_challenges(app, site)
    _bend(app, site)
    server = make_server("localhost", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    site.address = f"http://localhost:{server.server_port}"
    site.register(back)
    try:
        yield site
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
