"""The key in the API's own description."""

from typing import Any

PARAMETER = {
    "in": "header",
    "name": "Idempotency-Key",
    "schema": {"type": "string", "pattern": '^"?[A-Za-z0-9_-]{8,64}"?$'},
    "description": "A key of the sender's own for this sending, such as a UUID in quotes "
    "(draft-ietf-httpapi-idempotency-key-header-06). Sent again with the same content nothing is done twice: the "
    "answer has the first one's status, and `code` taken_before, `taken_at` and the `id` of what was made. With "
    "other content it is refused (422, idempotency_key_used). What was refused can be sent again under its key.",
}
CHANGING = frozenset({"post", "put", "patch", "delete"})
WITHOUT = frozenset({"sendings_carry"})
"""Whose parts have keys of their own."""


def describe_keys(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """drf-spectacular's hook: every operation that changes something takes a key, unless its parts do."""
    result["components"].setdefault("parameters", {})["IdempotencyKey"] = PARAMETER
    for path in result["paths"].values():
        for method, operation in path.items():
            if method in CHANGING and operation["operationId"] not in WITHOUT:
                operation.setdefault("parameters", []).append({"$ref": "#/components/parameters/IdempotencyKey"})
    return result
