"""Behind a real proxy with HTTPS, as docs/running.md says: who asks, and how, is known by its word alone."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import urllib3
from django.core.exceptions import ImproperlyConfigured
from pytest_django.fixtures import Settings

from config.running.serving import server_options
from tests.databases import ROOT
from tests.proxies import HOST, PROXIES, Certificate, certificate_make, proxy_running, secure_visitor
from tests.servers import MissingServiceError, free_port
from tests.services import leave_out
from tests.sides import Side, wait_for

DISTRICT = ("Proxy Fells", "--state", "NY", "--coordinator", "odell")
DOCUMENTED = {"ALLOWED_HOSTS": HOST, "HTTPS_ONLY": "1", "TRUSTED_PROXY": "127.0.0.1"}
FORGED = {"X-Forwarded-For": "198.51.100.7", "X-Forwarded-Proto": "https"}


@pytest.fixture
def password(sqlite_side: Side) -> str:
    """Of the coordinator of a new district, who is called odell."""
    printed = sqlite_side.manage("start_district", *DISTRICT)
    return printed[printed.index("password", printed.index("odell")) + 1]


@pytest.fixture
def upstream(sqlite_side: Side, password: str) -> int:
    """The documented web server's port, once it listens."""
    port = free_port()
    sqlite_side.start(ROOT / "manage.py", "serve", WEB_LISTEN=f"127.0.0.1:{port}", **DOCUMENTED)
    return _listening(port)


@pytest.fixture
def gunicorn(sqlite_side: Side, password: str) -> int:
    """The port of another web server, with two processes and the same settings."""
    port = free_port()
    words = ("-m", "gunicorn", "config.wsgi", "--workers", "2", "--bind", f"127.0.0.1:{port}")
    sqlite_side.start(*words, **DOCUMENTED)
    return _listening(port)


def _listening(port: int) -> int:
    direct = urllib3.HTTPConnectionPool("127.0.0.1", port, retries=False)
    wait_for(lambda: _answers(direct), "the web server")
    return port


def _answers(pool: urllib3.HTTPConnectionPool) -> bool:
    try:
        return pool.request("GET", "/", headers={"Host": HOST}, redirect=False).status > 0
    except urllib3.exceptions.HTTPError:
        return False


@pytest.fixture
def certificate(tmp_path: Path) -> Certificate:
    """A new one."""
    return certificate_make(tmp_path)


@pytest.fixture(params=[*(("upstream", proxy) for proxy in PROXIES), ("gunicorn", "nginx")], ids="-".join)
def ports(request: pytest.FixtureRequest, tmp_path: Path, certificate: Certificate) -> Iterator[tuple[int, int]]:
    """Ports for HTTPS and HTTP of each proxy in front of the documented web server, and of one before another."""
    server, proxy = request.param
    try:
        with proxy_running(proxy, tmp_path, request.getfixturevalue(server), certificate) as ports:
            secure = urllib3.HTTPSConnectionPool(
                "127.0.0.1", ports[0], ca_certs=str(certificate.chain), server_hostname=HOST, assert_hostname=HOST,
                retries=False,
            )  # fmt: skip
            wait_for(lambda: _answers(secure), proxy)
            yield ports
    except MissingServiceError as missing:
        leave_out(str(missing), "the tests behind it")


def _tries(side: Side) -> set[str]:
    return {address for (address,) in side.rows("SELECT ip_address FROM axes_accessfailurelog")}


def test_signing_in_through_a_proxy(
    ports: tuple[int, int], sqlite_side: Side, password: str, certificate: Certificate
) -> None:
    secure, plain = ports
    # RFC 9110, 15.4.9 has 308 for a request that keeps its method; Caddy takes that, nginx's guide shows 301.
    led = urllib3.HTTPConnectionPool("127.0.0.1", plain).request(
        "GET", "/x", headers={"Host": HOST}, redirect=False
    )
    assert led.status in {301, 308}
    assert led.headers["location"].startswith(f"https://{HOST}")
    visitor = secure_visitor(secure, certificate.chain)
    start = visitor.ask("GET", "/")
    assert (start.status, start.headers["location"]) == (302, "/sign-in/?next=/")
    page = visitor.ask("GET", "/sign-in/")
    assert page.status == 200
    # A forged Origin, or a scheme that the server doesn't know of, would be refused here with 403.
    done = visitor.sign_in("odell", password)
    assert (done.status, done.headers["location"]) == (302, "/")
    # Every cookie goes over HTTPS alone (RFC 6265, 4.1.2.5).
    assert len(visitor.cookies) >= 2
    assert all(cookie["secure"] for cookie in visitor.cookies.values())
    # A wrong password counts at the address that the visitor came from, whatever it says of itself.
    stranger = secure_visitor(secure, certificate.chain, address="127.0.0.2")
    assert stranger.sign_in("odell", "not-the-password", **FORGED).status == 200
    assert _tries(sqlite_side) == {"127.0.0.2"}


def test_nobody_but_the_proxy_is_believed(upstream: int, sqlite_side: Side) -> None:
    asked = {"Host": HOST, **FORGED}
    other = urllib3.HTTPConnectionPool("127.0.0.1", upstream, source_address=("127.0.0.3", 0), retries=False)
    refused = other.request("GET", "/sign-in/", headers=asked, redirect=False)
    assert (refused.status, refused.headers["location"]) == (301, f"https://{HOST}/sign-in/")
    proxy = urllib3.HTTPConnectionPool("127.0.0.1", upstream, retries=False)
    assert proxy.request("GET", "/sign-in/", headers=asked, redirect=False).status == 200


def test_the_server_ends_well_when_it_is_told_to(sqlite_side: Side, upstream: int) -> None:
    (process,) = sqlite_side.processes
    process.terminate()
    assert process.wait(60) == 0


def test_https_without_a_proxy_is_refused_with_the_remedy(settings: Settings) -> None:
    settings.SECURE_SSL_REDIRECT = True
    with pytest.raises(ImproperlyConfigured, match="Set TRUSTED_PROXY"):
        server_options()
    settings.TRUSTED_PROXY = "127.0.0.1"
    assert server_options()["listen"] == settings.WEB_LISTEN
