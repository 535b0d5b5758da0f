"""Databases that are there for one measurement, by their URLs."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module


@contextmanager
def sqlite() -> Iterator[str]:
    """A file of its own."""
    with tempfile.TemporaryDirectory() as folder:
        yield f"sqlite:///{folder}/district.sqlite3"


@contextmanager
def postgres() -> Iterator[str]:
    """A server of its own."""
    # Only here does it need the packages of the test group.
    with import_module("tests.services").postgres_server() as url:
        yield url
