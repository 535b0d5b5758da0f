"""Libraries that take long to load and that few processes ever ask: each is loaded when it is first used."""

from importlib import import_module
from typing import Any


class _Later:
    """Stands for a module until then; what was asked once is at hand."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, attribute: str) -> Any:
        found = getattr(import_module(self._name), attribute)
        setattr(self, attribute, found)
        return found


def later(name: str) -> Any:
    """The module of that name, not loaded yet. Raises `ImportError` at its first use if it isn't there.

    A module that names its types in signatures takes ``from __future__ import annotations``, and imports it itself
    where ``TYPE_CHECKING``.
    """
    return _Later(name)
