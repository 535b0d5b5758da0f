"""What was sent, as a fingerprint, and the key that it was sent under. Pure."""

import hashlib
import json
import re
from collections.abc import Iterable

FIELD = "idempotency_key"
"""The hidden field of a form."""
LEFT_OUT = frozenset({FIELD, "csrfmiddlewaretoken"})
KEY = re.compile(r'"?([A-Za-z0-9_-]{8,64})"?\Z')


def key_read(text: str) -> str | None:
    """The key in a header or field, with or without the quotes of a structured field (RFC 9651); None for none."""
    found = KEY.match(text.strip())
    return found.group(1) if found is not None else None


def fingerprint(method: str, address: str, *content: bytes) -> str:
    """SHA-256 of a sending, in hex."""
    found = hashlib.sha256()
    for one in (method.encode(), address.encode(), *content):
        found.update(len(one).to_bytes(8, "big"))
        found.update(one)
    return found.hexdigest()


def json_content(body: bytes) -> bytes:
    """A body of JSON, whichever way it was written down; other bytes as they are."""
    try:
        return json.dumps(json.loads(body), sort_keys=True).encode()
    except ValueError:
        return body


def form_content(pairs: Iterable[tuple[str, list[str]]]) -> bytes:
    """A form's fields, without the key itself and the token against forgery, which is another each time."""
    kept = sorted((name, values) for name, values in pairs if name not in LEFT_OUT)
    return json.dumps(kept).encode()


def made_id(body: bytes) -> str:
    """The id in an answer of the API; empty where it has none."""
    try:
        told = json.loads(body)
    except ValueError:
        return ""
    found = told.get("id", "") if isinstance(told, dict) else ""
    return str(found)[:40] if isinstance(found, int | str) else ""
