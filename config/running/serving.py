"""How the web server is started: what it listens at, and whose word is taken about who asks."""

from typing import Any
from wsgiref.types import WSGIApplication

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from waitress.proxy_headers import proxy_headers_middleware

PROXY_HEADERS = frozenset({"x-forwarded-for", "x-forwarded-proto"})
"""What a proxy in front tells, by the names that nginx's guide and Caddy use. Anyone else's are taken out."""

CONNECTIONS = 900
"""How many browsers and proxies may hold a connection open at one moment. Waitress takes 100 unless told, and
keeps the next one waiting until somebody has been silent for two minutes: three hundred teachers hold three
hundred. It is below the 1,024 open files that a process may have where nobody has said more."""


def behind_proxy(application: WSGIApplication) -> WSGIApplication:
    """The application as TRUSTED_PROXY tells of its visitors, whichever web server it runs in."""
    found: WSGIApplication = proxy_headers_middleware(
        application, trusted_proxy=settings.TRUSTED_PROXY or None, trusted_proxy_headers=set(PROXY_HEADERS)
    )
    return found


def server_options() -> dict[str, Any]:
    """Keyword arguments of ``waitress.serve``, which leaves the proxy's headers to the application.

    Raises ``ImproperlyConfigured`` where every page would redirect to itself: the server speaks no TLS, so with
    HTTPS_ONLY a request counts as secure by a proxy's word alone.
    """
    if settings.SECURE_SSL_REDIRECT and not settings.TRUSTED_PROXY:
        raise ImproperlyConfigured(
            "HTTPS_ONLY is on, and TRUSTED_PROXY doesn't say who speaks HTTPS in front: every page would redirect "
            "to itself. Set TRUSTED_PROXY to the address from which the proxy connects, such as 127.0.0.1."
        )
    return {
        "listen": settings.WEB_LISTEN,
        "threads": settings.WEB_THREADS,
        "ident": None,
        "clear_untrusted_proxy_headers": False,
        "connection_limit": CONNECTIONS,
        # select(2) can't look at more than 1,024 files; poll(2) has no such end.
        "asyncore_use_poll": True,
    }
