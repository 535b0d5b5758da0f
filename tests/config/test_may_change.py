"""What somebody sees and what they may change are two questions: whoever changes something asks the second.

A teacher sees a mate's students in some requests (`Person.mates`); nothing of them is the teacher's to change.
"""

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import models

from accounts.models import Person, ScopedQuerySet
from accounts.models.mate import Mate, alone
from tests.config.house.test_writers import is_service
from tests.config.things import Things, make_things
from tests.conftest import date_there

ROOT = Path(__file__).resolve().parents[2]

# Services that ask what may be seen, by file and function, with the reason.
SEEN_IS_MEANT = {
    "accounts/sign_in/services/sessions.py:sessions_end_others": "one's own sessions, which no team reaches",
    "caseload/delivery/services/log.py:_entries_mine": "mates log for each other: each line's day is asked next",
    "schedule/feeds/services/versions.py:_sees_building": "what a calendar shows its reader",
    "schedule/reports/services.py:exports_of": "a list of what was done, to be read",
}

# What of a teacher's a mate sees in such a request, by table; of nothing else one row more.
SEEN_BY_MATES = {
    "caseload.careview", "caseload.caution", "caseload.compensatorytime", "caseload.contact",
    "caseload.continuingservice", "caseload.datapoint", "caseload.deliveryentry", "caseload.deliveryversion",
    "caseload.enrollment", "caseload.phasechange", "caseload.plan", "caseload.serviceline", "caseload.student",
    "caseload.studentgoal", "caseload.studenthold", "caseload.support", "caseload.try", "schedule.plannedsession",
    "schedule.aidehours", "schedule.jointservice", "schedule.routine", "schedule.routinepart",
    "schedule.stationgoal", "schedule.stationrotation", "schedule.weekplan",
}  # fmt: skip


def _functions(path: Path) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(ast.parse((ROOT / path).read_text())):
        if isinstance(node, ast.FunctionDef):
            yield node


def _asks(function: ast.FunctionDef, *names: str) -> bool:
    """Whether a function calls, or hands on, one of these by name or as a method."""
    found = {node.id for node in ast.walk(function) if isinstance(node, ast.Name)}
    found |= {node.attr for node in ast.walk(function) if isinstance(node, ast.Attribute)}
    return bool(found & set(names))


def _source(*floors: str) -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [path for path in map(Path, listed.stdout.splitlines()) if path.parts[0] in floors]


def test_services_ask_what_may_be_changed() -> None:
    """None asks what may be seen but those named above; the demo's, which are nobody's, apart."""
    found = {
        f"{path}:{function.name}"
        for path in _source("accounts", "caseload", "schedule", "travel")
        if is_service(path) and "demo" not in str(path)
        for function in _functions(path)
        if _asks(function, "visible_to")
    }
    assert found == set(SEEN_IS_MEANT)


def test_pages_that_only_change_find_what_may_be_changed() -> None:
    """A page that takes nothing but a press looks for its row among those that may be changed."""
    found = [
        f"{path}:{function.name}"
        for path in _source("accounts", "caseload", "schedule", "travel")
        for function in _functions(path)
        if any(ast.unparse(one) == "require_POST" for one in function.decorator_list)
        and _asks(function, "find_visible")
    ]
    assert found == []


def _scoped() -> list[type[models.Model]]:
    return [one for one in apps.get_models() if isinstance(one._meta.default_manager.all(), ScopedQuerySet)]  # type: ignore[union-attr]


def _rows(model: type[models.Model], how: str, person: Person) -> set[Any]:
    return set(getattr(model._meta.default_manager, how)(person).values_list("pk", flat=True))


@pytest.fixture
def things(db: None) -> Things:
    return make_things()


@pytest.mark.parametrize("logs", [False, True])
def test_a_mates_rows_are_seen_and_not_changed(things: Things, logs: bool) -> None:
    """Table by table: more is seen where a mate's students are, and nothing more is to be changed."""
    cast, today = things.cast, date_there()
    alone = Person.objects.get(pk=cast.mate.pk)
    with_mates = Person.objects.get(pk=cast.mate.pk)
    with_mates.mates = (Mate(cast.teacher.pk, today.replace(year=2000), today.replace(year=2100), logs=logs),)
    more: set[str] = set()
    for model in _scoped():
        changeable = _rows(model, "changeable_by", with_mates)
        assert changeable == _rows(model, "visible_to", alone) == _rows(model, "changeable_by", alone), model
        seen = _rows(model, "visible_to", with_mates)
        assert changeable <= seen, model
        more |= {model._meta.label_lower} if seen - changeable else set()
    assert more == SEEN_BY_MATES


def test_everybody_else_sees_what_they_may_change(things: Things) -> None:
    """Without mates the two questions have one answer, for every role and table; roles are asked beside it."""
    cast = things.cast
    for person in (cast.teacher, cast.mate, cast.coordinator, cast.office, cast.substitute, cast.stranger):
        for model in _scoped():
            assert _rows(model, "changeable_by", person) == _rows(model, "visible_to", person), (person, model)


def test_alone_is_another_object(things: Things) -> None:
    """Who asks what may be changed doesn't lose their mates for the rest of the request."""
    mate = things.cast.mate
    mate.mates = (Mate(things.cast.teacher.pk, date_there(), date_there(), logs=False),)
    assert alone(mate).mates == ()
    assert alone(mate) == mate
    assert len(mate.mates) == 1
