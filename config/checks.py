"""The published key of the embedded set-up must not sign anything that others can reach."""

import ipaddress
from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from urllib.parse import urlsplit

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error

PUBLISHED = (
    "SECRET_KEY is the key that everybody can read in this program's source: with it anyone could forge what the "
    "program signs."
)
REMEDY = (
    'Make a key with\n\n    python3 -c "import secrets; print(secrets.token_urlsafe(50))"\n\nset it as SECRET_KEY '
    "for every process of this server, and keep it: nobody else may read it."
)


def is_this_machine(host: str) -> bool:
    """Whether a host's name leads to this machine alone (RFC 6761, 6.3, and the loopback blocks of RFC 6890)."""
    name = host.strip("[]").lower().rstrip(".")
    if name == "localhost" or name.endswith(".localhost"):
        return not name.startswith(".")
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def _reasons() -> Iterator[str]:
    """What shows that others than this machine reach the program."""
    if hosts := [host for host in settings.ALLOWED_HOSTS if not is_this_machine(host)]:
        yield f"ALLOWED_HOSTS names {', '.join(hosts)}"
    if settings.SECURE_SSL_REDIRECT:
        yield "HTTPS_ONLY is on"
    site = [settings.SITE_ADDRESS] if settings.SITE_ADDRESS else []
    for name, addresses in (("CSRF_TRUSTED_ORIGINS", settings.CSRF_TRUSTED_ORIGINS), ("SITE_ADDRESS", site)):
        if others := _elsewhere(addresses):
            yield f"{name} names {', '.join(others)}"


def _elsewhere(addresses: Iterable[str]) -> list[str]:
    return [one for one in addresses if not is_this_machine(urlsplit(one).hostname or "")]


def _is_published() -> bool:
    return bool(settings.SECRET_KEY == settings.PUBLISHED_KEY)


def key_fit_for_start(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """A server that others reach has a key of its own."""
    reasons = list(_reasons()) if _is_published() else []
    if not reasons:
        return []
    told = f"{PUBLISHED} Other machines can reach it: {'; '.join(reasons)}."
    return [Error(told, hint=REMEDY, id="config.E001")]


def key_fit_for_deploy(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Whoever asks ``check --deploy`` means a server, whatever the other settings still say."""
    if not _is_published() or any(_reasons()):
        return []
    return [Error(PUBLISHED, hint=REMEDY, id="config.E002")]
