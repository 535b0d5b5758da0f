"""How the web server is started: what it listens at, and whose word it takes about who asks."""

from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

PROXY_HEADERS = frozenset({"x-forwarded-for", "x-forwarded-proto"})
"""What a proxy in front tells, by the names that nginx's guide and Caddy use. Anyone else's are taken out."""


def server_options() -> dict[str, Any]:
    """Keyword arguments of ``waitress.serve``.

    Raises ``ImproperlyConfigured`` where every page would redirect to itself: the server speaks no TLS, so with
    HTTPS_ONLY a request counts as secure by a proxy's word alone.
    """
    proxy = settings.TRUSTED_PROXY
    if settings.SECURE_SSL_REDIRECT and not proxy:
        raise ImproperlyConfigured(
            "HTTPS_ONLY is on, and TRUSTED_PROXY doesn't say who speaks HTTPS in front: every page would redirect "
            "to itself. Set TRUSTED_PROXY to the address from which the proxy connects, such as 127.0.0.1."
        )
    options: dict[str, Any] = {
        "listen": settings.WEB_LISTEN,
        "threads": settings.WEB_THREADS,
        "ident": None,
        "clear_untrusted_proxy_headers": True,
    }
    if proxy:
        options |= {"trusted_proxy": proxy, "trusted_proxy_count": 1, "trusted_proxy_headers": set(PROXY_HEADERS)}
    return options
