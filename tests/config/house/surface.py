"""What others hold on to: addresses, tables, commands and file formats, as lines of text.

``python manage.py shell -c "from tests.config.house.surface import write; write()"`` writes the lists that are
checked in beside this module; test_surface.py compares them. The API is held by docs/openapi.yaml.
"""

import argparse
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management import get_commands, load_command_class
from django.db.models import Field
from django.urls import URLPattern, URLResolver, get_resolver

from schedule.imports.tables.every import TABLES

LISTS = Path(__file__).resolve().parent / "surface"
FLOORS = ("accounts", "caseload", "config", "jobs", "schedule", "travel")


def addresses() -> list[str]:
    """Each address with its route's name."""
    return sorted(_addresses(get_resolver().url_patterns))


def _addresses(patterns: list[URLPattern | URLResolver], begin: str = "", space: str = "") -> Iterator[str]:
    for pattern in patterns:
        here = f"{begin}{pattern.pattern}"
        if isinstance(pattern, URLPattern):
            yield f"/{here} ({space}{pattern.name})"
        else:
            inside = f"{pattern.namespace}:" if pattern.namespace else space
            yield from _addresses(pattern.url_patterns, here, inside)


def tables() -> list[str]:
    """Each column of each table with its kind, keys with the table that they point to."""
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.app_label in FLOORS]
    return sorted(
        f"{model._meta.db_table}.{field.column} {_kind(field)}"
        for model in models
        for field in model._meta.concrete_fields
    )


def _kind(field: "Field[Any, Any]") -> str:
    kind = field.get_internal_type()
    length = f"({field.max_length})" if field.max_length else ""
    empty = " or nothing" if field.null else ""
    target = f" -> {field.related_model._meta.db_table}" if field.related_model is not None else ""
    return f"{kind}{length}{empty}{target}"


def commands() -> list[str]:
    """Each command of the house with its arguments."""
    found = []
    for name, app in get_commands().items():
        if app in FLOORS:
            parser = load_command_class(app, name).create_parser("manage.py", name)
            found.append(f"{name} {' '.join(_arguments(parser))}".strip())
    return sorted(found)


def _arguments(parser: argparse.ArgumentParser) -> list[str]:
    usual = {"-h", "--version", "-v", "--settings", "--pythonpath", "--traceback", "--no-color", "--force-color"}
    usual |= {"--skip-checks", "--verbosity", "--help"}
    named = [one.option_strings or [str(one.dest)] for one in parser._actions]
    return sorted(words[-1] for words in named if not usual & set(words))


def columns() -> list[str]:
    """Each column of the tables that are uploaded, as a template has them."""
    return [
        f"{table.kind}: {column.header}, {column.kind.value}{', needed' if column.required else ''}"
        for table in TABLES
        for column in table.columns
    ]


SURFACE: Mapping[str, Callable[[], list[str]]] = {
    "addresses": addresses,
    "columns": columns,
    "commands": commands,
    "tables": tables,
}


def write() -> None:
    """Write every list anew."""
    LISTS.mkdir(exist_ok=True)
    for name, read in SURFACE.items():
        (LISTS / f"{name}.txt").write_text("".join(f"{line}\n" for line in read()))
