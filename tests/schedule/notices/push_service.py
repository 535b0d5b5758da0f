"""A push service on loopback and a browser that subscribes to it: over TLS, with keys, as the standards say.

What it takes it opens with libraries of other people: http-ece for RFC 8188 and 8291, py-vapid for RFC 8292.
"""

import datetime as dt
import ipaddress
import json
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import http_ece
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from py_vapid import Vapid02

from schedule.notices.push import to_bytes, to_text

AUTH = b"sixteen bytes 16"


@dataclass
class Sent:
    """One message as the push service got it."""

    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def claims(self) -> dict[str, Any]:
        """Who the sender says it is, after its signature was checked."""
        kind, _, said = self.headers["authorization"].partition(" ")
        assert kind == "vapid"
        parts = dict(one.strip().split("=", 1) for one in said.split(","))
        assert Vapid02.verify(self.headers["authorization"].replace(", ", ","))
        claims: dict[str, Any] = json.loads(to_bytes(parts["t"].split(".")[1]))
        return claims


@dataclass
class PushService:
    """What it was handed. `says`: its status, `more`: headers of its answer, `mute`: it takes and says nothing."""

    address: str = ""
    says: int = 201
    more: dict[str, str] = field(default_factory=dict)
    mute: bool = False
    sent: list[Sent] = field(default_factory=list)
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))

    def subscription(self, name: str = "phone") -> dict[str, str]:
        """What a browser gives (Push API): where to send, and with which keys to seal."""
        point = self.key.public_key().public_bytes(
            serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint
        )
        endpoint = f"{self.address}/send/{name}?for=us"
        return {"endpoint": endpoint, "receiver_key": to_text(point), "secret": to_text(AUTH)}

    def opened(self, number: int = -1) -> dict[str, str]:
        """What the browser reads of a message."""
        plain = http_ece.decrypt(self.sent[number].body, private_key=self.key, auth_secret=AUTH)
        read: dict[str, str] = json.loads(plain)
        return read


def _certificate(folder: Path) -> Path:
    """A certificate for this machine, with its key in the same file."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.now(dt.UTC)
    names = [x509.DNSName("localhost"), x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    file = folder / "localhost.pem"
    file.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        + made.public_bytes(serialization.Encoding.PEM)
    )
    return file


@contextmanager
def push_service_in(folder: Path) -> Iterator[tuple[PushService, Path]]:
    """A running push service, and the file by which it is trusted."""
    service = PushService()

    class Answering(BaseHTTPRequestHandler):
        """Takes what is handed in."""

        def do_POST(self) -> None:
            """A message."""
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            service.sent.append(Sent(self.path, headers, body))
            if service.mute:
                return
            self.send_response(service.says)
            for name, value in service.more.items():
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *args: object) -> None:
            """Nothing."""

    file = _certificate(folder)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(file)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Answering)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    service.address = f"https://localhost:{server.server_port}"
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield service, file
    finally:
        server.shutdown()
        server.server_close()
