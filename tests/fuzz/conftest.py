"""Who asks, and for how long: `FUZZ=20 script/test tests/fuzz` looks twenty times as long as a test run does."""

import os
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, Phase, settings

from tests.config.things import Things, make_things

SCALE = int(os.environ.get("FUZZ", "1"))
ROLES = {"T": "teacher", "C": "coordinator", "O": "office", "S": "substitute"}


@pytest.fixture
def things(db: None) -> Things:
    """One of everything; each request is taken back."""
    return make_things()


def signed_in(things: Things, letter: str) -> Client:
    """A browser of one role."""
    client = Client()
    client.force_login(getattr(things.cast, ROLES[letter]))
    return client


def examples(number: int) -> Callable[[Any], Any]:
    """So many examples, the same in each run.

    Nothing fails in between (findings are collected), so nothing has to be shrunk or kept in a database.
    """
    return settings(
        max_examples=number,
        phases=(Phase.generate,),
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
