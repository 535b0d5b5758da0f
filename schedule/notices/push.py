"""Web push by its standards: what is sent to a browser's push service, sealed so that only the browser reads it.

Pure. RFC 8030 says how a message is handed to the push service, RFC 8291 (with RFC 8188, aes128gcm) how it is
sealed, RFC 8292 (VAPID) how the sender says who it is.
"""

import base64
import binascii
import json
from collections.abc import Sequence
from urllib.parse import urlsplit

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

POINT_BYTES, SECRET_BYTES, SALT_BYTES = 65, 16, 16
RECORD_BYTES = 4096
MOST_BYTES = 3993
"""What a sealed message can hold (RFC 8291 section 4): 4096 less 86 of header, 16 of tag and 1 of delimiter."""
MORE = "And more: see the day sheet."
P256 = ec.SECP256R1()

type PrivateKey = ec.EllipticCurvePrivateKey


def to_text(data: bytes) -> str:
    """Bytes as base64url without padding (RFC 7515 section 2)."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def to_bytes(text: str) -> bytes:
    """The bytes of base64url, with or without padding. Raises `ValueError`."""
    try:
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        message = "This isn't base64url."
        raise ValueError(message) from error


def point_read(text: str) -> ec.EllipticCurvePublicKey:
    """A browser's public key: an uncompressed point of P-256. Raises `ValueError`."""
    data = to_bytes(text)
    if len(data) != POINT_BYTES:
        message = f"A key has {POINT_BYTES} bytes."
        raise ValueError(message)
    return ec.EllipticCurvePublicKey.from_encoded_point(P256, data)


def point_of(key: PrivateKey) -> bytes:
    """The public half of a key, as an uncompressed point."""
    form = serialization.PublicFormat.UncompressedPoint
    return key.public_key().public_bytes(serialization.Encoding.X962, form)


def sealed(plain: bytes, *, receiver: str, secret: str, key: PrivateKey, salt: bytes) -> bytes:
    """A message in one record that only the browser with these keys opens (RFC 8291 section 3).

    `receiver` and `secret` are the subscription's p256dh and auth; `key` and `salt` are made for this message.
    """
    theirs, ours = point_read(receiver), point_of(key)
    shared = key.exchange(ec.ECDH(), theirs)
    info = b"WebPush: info\0" + to_bytes(receiver) + ours
    material = _derived(shared, salt=to_bytes(secret), info=info, length=32)
    cipher = AESGCM(_derived(material, salt=salt, info=b"Content-Encoding: aes128gcm\0", length=16))
    nonce = _derived(material, salt=salt, info=b"Content-Encoding: nonce\0", length=12)
    head = salt + RECORD_BYTES.to_bytes(4, "big") + bytes([len(ours)]) + ours
    # The last record ends with the delimiter 2 (RFC 8188 section 2).
    return head + cipher.encrypt(nonce, plain + b"\x02", None)


def _derived(material: bytes, *, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(algorithm=hashes.SHA256(), length=length, salt=salt, info=info).derive(material)


def authorization(endpoint: str, *, key: PrivateKey, contact: str, expires: int) -> str:
    """The header by which the sender says who it is (RFC 8292 sections 2 and 3). `expires`: seconds since 1970."""
    parts = urlsplit(endpoint)
    claims = {"aud": f"{parts.scheme}://{parts.netloc}", "exp": expires, "sub": contact}
    said = ".".join(to_text(json.dumps(one).encode()) for one in ({"typ": "JWT", "alg": "ES256"}, claims))
    r, s = decode_dss_signature(key.sign(said.encode(), ec.ECDSA(hashes.SHA256())))
    signature = r.to_bytes(32, "big") + s.to_bytes(32, "big")
    return f"vapid t={said}.{to_text(signature)}, k={to_text(point_of(key))}"


def payload(*, title: str, lines: Sequence[str], path: str, tag: str) -> bytes:
    """What the worker shows (config/static/push.js): the text, the page that it opens, and what replaces what.

    Lines that no longer fit are left out, and that is said.
    """
    kept, cut = list(lines), False
    while len(written := _written(title, [*kept, MORE] if cut else kept, path, tag)) > MOST_BYTES and kept:
        kept.pop()
        cut = True
    return written


def _written(title: str, lines: Sequence[str], path: str, tag: str) -> bytes:
    shown = {"title": title, "body": "\n".join(lines), "path": path, "tag": tag}
    return json.dumps(shown, ensure_ascii=False).encode()
