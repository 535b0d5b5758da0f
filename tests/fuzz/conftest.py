"""Who asks, and for how long: `FUZZ=20 script/test tests/fuzz` looks twenty times as long as a test run does."""

import os
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, Phase, settings

from tests.config.things import Things, make_things
from travel.places.models import BuildingReview

SCALE = int(os.environ.get("FUZZ", "1"))
ROLES = {"T": "teacher", "C": "coordinator", "O": "office", "S": "substitute", "R": "reviewer"}


@pytest.fixture
def things(db: None) -> Things:
    """One of everything; each request is taken back."""
    return make_things()


def signed_in(things: Things, letter: str) -> Client:
    """A browser of one role."""
    client = Client()
    is_reviewer = ROLES[letter] == "reviewer"
    review = BuildingReview.objects.get(pk=things.ids["review"]) if is_reviewer else None
    client.force_login(review.reviewer if review is not None else getattr(things.cast, ROLES[letter]))
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
