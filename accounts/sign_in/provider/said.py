"""What a provider's checked ID token says about a person. Pure."""

from collections.abc import Collection, Mapping
from typing import Any

EMAIL = "email"
LONGEST = 254


def named(claims: Mapping[str, Any], claim: str) -> str:
    """What the claim says; empty where it isn't there, isn't words, or is a mail address that nobody has verified.

    A mail address that one may give oneself at the provider would let one in as somebody else: it counts only where
    the provider says that it is verified (OpenID Connect Core 1.0, 5.1).
    """
    value = claims.get(claim)
    if not isinstance(value, str) or len(value) > LONGEST or "\0" in value:
        return ""
    return "" if claim == EMAIL and claims.get("email_verified") is not True else value.strip()


def has_second_step(claims: Mapping[str, Any], values: Collection[str]) -> bool:
    """Whether the provider says that a second factor was asked, by one of these values of `amr` or `acr`."""
    methods = claims.get("amr")
    said = [one for one in methods if isinstance(one, str)] if isinstance(methods, list) else []
    return any(one in values for one in (*said, claims.get("acr")) if isinstance(one, str))


def session_named(claims: Mapping[str, Any]) -> str:
    """What the provider calls its own session (Back-Channel Logout 1.0, 2.1); empty where it doesn't say."""
    value = claims.get("sid")
    return value if isinstance(value, str) and len(value) <= LONGEST else ""


def signed_in_at(claims: Mapping[str, Any], now: float) -> float:
    """When the person last proved at the provider who they are, in seconds; `now` where it doesn't say."""
    at = claims.get("auth_time")
    return min(float(at), now) if isinstance(at, int | float) and not isinstance(at, bool) else now
