"""The key by which this program says who it is to push services: made when it is first needed, and kept."""

from pathlib import Path

from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from django.conf import settings

from accounts.errors import ApplicationError
from accounts.own_files import kept_secret
from schedule.notices.push import P256, PrivateKey, point_of, to_text


def push_key() -> PrivateKey:
    """The key; of processes that begin at once all get the same. Raises `ApplicationError` (`no_push_key`).

    Only its owner can read the file. Devices are tied to it: with another key each has to be turned on again.
    """
    try:
        key = serialization.load_pem_private_key(kept_secret(Path(settings.PUSH_KEY_FILE), _made), password=None)
    except (OSError, ValueError, TypeError) as error:
        raise ApplicationError(
            f"The key for messages to phones can't be read or made: {type(error).__name__} at PUSH_KEY_FILE.",
            code="no_push_key",
            status=503,
        ) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.curve.name != P256.name:
        raise ApplicationError("PUSH_KEY_FILE holds another kind of key.", code="no_push_key", status=503)
    return key


def push_key_text() -> str:
    """Its public half, as browsers take it (`applicationServerKey`)."""
    return to_text(point_of(push_key()))


def _made() -> bytes:
    """A new key."""
    return ec.generate_private_key(P256).private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
