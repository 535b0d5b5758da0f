"""One shape for every error of the API: ``{"code", "message", "fields"}``, with `readings` where one can answer.

On its way out it gets the members of problem details beside these (config.problems).
"""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS
from django.core.exceptions import ValidationError as DjangoValidationError
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler

from accounts.errors import PROBLEM, ApplicationError


def _shape(code: str, message: str, fields: dict[str, list[str]] | None = None) -> dict[str, Any]:
    return {"code": code, "message": message, "fields": fields or {}}


def _flatten(detail: Any, prefix: str = "") -> dict[str, list[str]]:
    if isinstance(detail, dict):
        return _flatten_fields(detail, prefix)
    if isinstance(detail, list) and any(isinstance(item, dict | list) for item in detail):
        return _flatten({str(index): item for index, item in enumerate(detail)}, prefix)
    texts = detail if isinstance(detail, list) else [detail]
    return {prefix: [str(text) for text in texts]}


def _flatten_fields(detail: Mapping[Any, Any], prefix: str) -> dict[str, list[str]]:
    fields: dict[str, list[str]] = {}
    for name, value in detail.items():
        key = "" if name in {NON_FIELD_ERRORS, api_settings.NON_FIELD_ERRORS_KEY} else str(name)
        path = f"{prefix}.{key}".strip(".")
        for inner, texts in _flatten(value, path).items():
            fields.setdefault(inner, []).extend(texts)
    return fields


def _readings(error: Exception) -> dict[str, Any]:
    """By field, what a value that can mean two things may be read as: services put it among the params."""
    by_field = error.error_dict if isinstance(error, DjangoValidationError) and hasattr(error, "error_dict") else {}
    found = {
        name: one.params["readings"]
        for name, errors in by_field.items()
        for one in errors
        if one.params and "readings" in one.params
    }
    return {"readings": found} if found else {}


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: application and validation errors of services come out like DRF's own."""
    if isinstance(error, ApplicationError):
        return Response(_shape(error.code, error.message), status=error.status)
    readings = _readings(error)
    if isinstance(error, DjangoValidationError):
        detail: Any = error.message_dict if hasattr(error, "error_dict") else error.messages
        error = exceptions.ValidationError(detail)
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, exceptions.ValidationError):
        response.data = _shape("invalid", "Some values can't be saved.", _flatten(error.detail)) | readings
    else:
        code = getattr(getattr(error, "detail", None), "code", "error")
        message = str(getattr(error, "detail", "There is nothing here that you can see."))
        response.data = _shape("not_found" if response.status_code == 404 else code, message)
    return response


def describe_errors(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """drf-spectacular's hook: every operation may answer with the one shape of errors."""
    result["components"]["schemas"]["Error"] = {
        "type": "object",
        "description": "What went wrong: problem details (RFC 9457) with members of our own.",
        "properties": {
            "type": {"type": "string", "description": "Always about:blank: the code says more."},
            "title": {"type": "string", "description": "The status in words."},
            "status": {"type": "integer"},
            "detail": {"type": "string", "description": "The same as message."},
            "code": {"type": "string", "description": "For programs: doesn't change."},
            "message": {"type": "string", "description": "For people: what is wrong and how to fix it."},
            "fields": {
                "type": "object",
                "description": "Problems by field; those of nested rows by path, such as periods.1.end.",
                "additionalProperties": {"type": "array", "items": {"type": "string"}},
            },
            "readings": {
                "type": "object",
                "description": "By field, where a value can mean two things: what it may be read as. Send the "
                "`reading` that is meant beside the value.",
                "additionalProperties": {
                    "type": "array",
                    "items": {
                        "type": "object",
                        "properties": {"reading": {"type": "string"}, "words": {"type": "string"}},
                        "required": ["reading", "words"],
                    },
                },
            },
        },
        "required": ["type", "title", "status", "detail", "code", "message", "fields"],
    }
    content = {PROBLEM: {"schema": {"$ref": "#/components/schemas/Error"}}}
    for path in result["paths"].values():
        for operation in path.values():
            operation["responses"]["default"] = {"description": "Any error.", "content": content}
    return result


def describe_times(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """drf-spectacular's hook: times of day are local and carry no offset.

    The format ``time`` of JSON Schema is RFC 3339's full-time, which has an offset; without one the OpenAPI
    Initiative's registry of formats calls it ``time-local`` (spec.openapis.org/registry/format/time-local).
    """
    _times_localize(result)
    return result


def _times_localize(node: Any) -> None:
    if isinstance(node, dict):
        if node.get("format") == "time" and node.get("type") == "string":
            node["format"] = "time-local"
        node = list(node.values())
    for one in node if isinstance(node, list) else ():
        _times_localize(one)
