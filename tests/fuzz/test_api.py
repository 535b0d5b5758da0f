"""No operation of the API answers with an error of ours, and what it answers has the shape that it promises.

Requests are made from the description that is checked in (docs/openapi.yaml): those that it allows and those that
it doesn't, to rows that are there and to any.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
import yaml
from django.conf import settings as project
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from django.test import Client, override_settings
from hypothesis import given
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.config.permission_table import API
from tests.config.things import Things
from tests.fuzz.conftest import ROLES, SCALE, examples, signed_in
from tests.fuzz.pages import address_values, filled, parts_of, routes
from tests.fuzz.sending import Findings, Sent
from tests.fuzz.values import ANY_EXTREME

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("no_record_of_templates")]
DESCRIPTION = project.BASE_DIR / "docs" / "openapi.yaml"
TOKEN = "t" * 32
# Packed answers are for browsers: what is held against the description is what they hold.
HEADERS = {"X-CSRFToken": TOKEN, "Accept-Encoding": "identity"}
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
# The office and a substitute are refused nearly everything.
EXAMPLES = {"T": 2 * SCALE, "C": 2 * SCALE, "O": SCALE, "S": SCALE, "R": SCALE}

# RFC 3339's time without an offset (spec.openapis.org/registry/format/time-local).
schemathesis.openapi.format("time-local", st.times().map(str))


@pytest.mark.parametrize("letter", ROLES)
def test_no_operation_breaks(things: Things, letter: str) -> None:
    """Each operation in turn."""
    client, rows, found = signed_in(things, letter), _rows(things), Findings()
    there = _addresses(things)
    schema: Any = schemathesis.openapi.from_dict(yaml.safe_load(DESCRIPTION.read_text()))
    with override_settings(DEBUG_PROPAGATE_EXCEPTIONS=True), _one_connection():
        schema.app = get_wsgi_application()
        for result in schema.get_all_operations():
            operation = result.ok()
            known = there[operation.path]
            for fixed in (known, None) if known else (None,):
                for mode in MODES:
                    cases = operation.as_strategy(generation_mode=mode, path_parameters=fixed)
                    _look(cases, EXAMPLES[letter], client, rows, found)
    assert not found.report(), found.report()


@pytest.mark.parametrize("letter", ["T", "C"])
def test_each_query_at_its_extremes(things: Things, letter: str) -> None:
    """One parameter after the other, those that the description leaves optional as well."""
    client, found, there = signed_in(things, letter), Findings(), _addresses(things)
    for path, operations in yaml.safe_load(DESCRIPTION.read_text())["paths"].items():
        address = path.format(**there[path])
        for parameter in operations.get("get", {}).get("parameters", ()):
            for value in ANY_EXTREME if parameter["in"] == "query" else ():
                found.look(client, Sent("get", address, ((parameter["name"], value),)))
    assert not found.report(), found.report()


@contextmanager
def _one_connection() -> Iterator[None]:
    """Like Django's own client: a request must not close the connection whose transaction takes everything back."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in signals:
            signal.connect(close_old_connections)


def _look(cases: Any, number: int, client: Client, rows: dict[str, Any], found: Findings) -> None:
    """Half of the cases with rows that are there in place of made-up ones."""
    cookies = {"sessionid": client.cookies["sessionid"].value, "csrftoken": TOKEN}

    @examples(number)
    @given(cases, st.booleans())
    def look(case: Any, there: bool) -> None:
        if there:
            case.body, case.query = _with_rows(case.body, rows), _with_rows(case.query, rows)
        try:
            with transaction.atomic():
                answer = case.call(base_url="http://localhost", cookies=cookies, headers=HEADERS)
                transaction.set_rollback(True)
            case.validate_response(answer, checks=CHECKS)
        except (Exception, FailureGroup) as error:  # every error is a finding, whatever its kind
            found.note(f"{case.method} {case.formatted_path} {case.query} {case.body}", error, case.operation.label)

    look()


def _addresses(things: Things) -> dict[str, dict[str, str]]:
    """By the description's path: the parts of an address that is there."""
    found = {}
    for name, template in routes().items():
        if name in API:
            # The description calls a row's number its id.
            told = {part: "id" if part == "pk" else part for part in parts_of(template)}
            path = filled(template, {part: "{" + name + "}" for part, name in told.items()})
            found[path] = {told[part]: value for part, value in address_values(API[name], things).items()}
    return found


def _rows(things: Things) -> dict[str, Any]:
    """Rows that are there, by the names that bodies and queries call them."""
    ids = things.ids
    other_names = {
        "teacher": ("teacher", "provider", "caseload_teacher"),
        "north": ("building", "origin"),
        "south": ("destination",),
        "gym": ("space",),
        "room4": ("school_class", "home_class", "pushed_into"),
        "line": ("service_line",),
        "year": ("school_year",),
        "bells": ("schedule", "bell_schedule"),
    }
    known = {name: ids[name] for name in ("student", "plan", "week", "unplaced", "uid")}
    known |= {name: ids[thing] for thing, names in other_names.items() for name in names}
    return {**known, "expected_revision": 1, "substitute": things.cast.substitute.pk}


def _with_rows(value: Any, rows: dict[str, Any]) -> Any:
    if isinstance(value, list):
        return [_with_rows(one, rows) for one in value]
    if isinstance(value, dict):
        return {name: rows[name] if name in rows else _with_rows(one, rows) for name, one in value.items()}
    return value
