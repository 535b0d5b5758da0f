"""Real proxies in front of a server of ours, with the configurations of docs/deploy and a new certificate."""

import datetime as dt
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import urllib3
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.databases import ROOT
from tests.servers import MissingServiceError, free_port
from tests.visitor import Visitor

HOST = "plan.school.example"
DEPLOY = ROOT / "docs" / "deploy"
DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Certificate:
    """A certificate of HOST that signs itself, and its key, as files."""

    chain: Path
    key: Path


def certificate_make(home: Path) -> Certificate:
    """A new one, good for a day."""
    key, now = ec.generate_private_key(ec.SECP256R1()), dt.datetime.now(tz=dt.UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number(), now - DAY, now + DAY)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(HOST)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    private = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    found = Certificate(home / "site.pem", home / "site.key")
    found.chain.write_bytes(made.public_bytes(pem))
    found.key.write_bytes(private)
    return found


def _program(name: str, package: str) -> str:
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/sbin")
    if found is None:
        raise MissingServiceError(f"{name} (Debian package {package})")
    return found


def _replaced(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text, f"docs/deploy says {old} no longer"
        text = text.replace(old, new)
    return text


def _nginx(home: Path, port: int, plain: int, upstream: int, certificate: Certificate) -> list[str]:
    server = _replaced(
        (DEPLOY / "nginx.conf").read_text(encoding="utf-8"),
        ("listen 80;", f"listen 127.0.0.1:{plain};"),
        ("listen 443 ssl;", f"listen 127.0.0.1:{port} ssl;"),
        ("127.0.0.1:8000", f"127.0.0.1:{upstream}"),
        ("/etc/ssl/plan.school.example.pem", str(certificate.chain)),
        ("/etc/ssl/private/plan.school.example.key", str(certificate.key)),
        ("/var/log/nginx/error.log crit", "stderr crit"),
    )
    kept = "".join(
        f"{what}_temp_path {home}/{what};\n" for what in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    whole = f"daemon off;\npid {home}/nginx.pid;\nevents {{}}\nhttp {{\n{kept}{server}}}\n"
    (home / "nginx.conf").write_text(whole, encoding="utf-8")
    return [_program("nginx", "nginx-light"), "-e", "stderr", "-p", str(home), "-c", str(home / "nginx.conf")]


def _caddy(home: Path, port: int, plain: int, upstream: int, certificate: Certificate) -> list[str]:
    site = _replaced(
        (DEPLOY / "Caddyfile").read_text(encoding="utf-8"),
        (
            f"{HOST} {{\n",
            f"https://{HOST}:{port} {{\n\tbind 127.0.0.1\n\ttls {certificate.chain} {certificate.key}\n",
        ),
        ("127.0.0.1:8000", f"127.0.0.1:{upstream}"),
    )
    options = f"{{\n\tadmin off\n\thttp_port {plain}\n\thttps_port {port}\n\tstorage file_system {home}/caddy\n}}\n"
    (home / "Caddyfile").write_text(options + re.sub(r"(?m)^#.*\n", "", site), encoding="utf-8")
    return [_program("caddy", "caddy"), "run", "--adapter", "caddyfile", "--config", str(home / "Caddyfile")]


PROXIES = {"nginx": _nginx, "caddy": _caddy}


@contextmanager
def proxy_running(name: str, home: Path, upstream: int, certificate: Certificate) -> Iterator[tuple[int, int]]:
    """A proxy in front of a port of this machine: its ports for HTTPS and for HTTP.

    Raises `MissingServiceError` where the proxy isn't installed.
    """
    port, plain = free_port(), free_port()
    words = PROXIES[name](home, port, plain, upstream, certificate)
    with (home / f"said-{name}").open("wb") as said:
        process = subprocess.Popen(
            words, stdout=said, stderr=said, env={"HOME": str(home), "PATH": "/usr/bin:/bin"}
        )
    try:
        yield port, plain
    finally:
        process.terminate()
        process.wait(30)


def secure_visitor(port: int, chain: Path, address: str = "127.0.0.1") -> Visitor:
    """Somebody at HOST over HTTPS, who connects from an address of this machine's choice."""
    pool = urllib3.HTTPSConnectionPool(
        "127.0.0.1", port, ca_certs=str(chain), server_hostname=HOST, assert_hostname=HOST,
        source_address=(address, 0), retries=False, timeout=60,
    )  # fmt: skip
    return Visitor(f"https://{HOST}:{port}", pool)
