"""The picture of the tables is current, and shows every table and key that the database really has."""

import re
import sqlite3
from contextlib import closing
from pathlib import Path

from django.apps import apps
from django.core.management import call_command
from django.db import connection

from config.data_model import FLOORS, page

ROOT = Path(__file__).resolve().parents[3]


def test_the_picture_is_current() -> None:
    drawn = (ROOT / "docs" / "data-model.md").read_text(encoding="utf-8")
    assert drawn == page(), "The models have changed: run python manage.py draw_tables."


def test_the_command_writes_the_page(tmp_path: Path) -> None:
    call_command("draw_tables", file=tmp_path / "tables.md", verbosity=0)
    assert (tmp_path / "tables.md").read_text(encoding="utf-8") == page()


def test_every_key_of_the_database_is_a_line(db: None) -> None:
    """Told by the database itself (its introspection), not by the models: what stands there and points where."""
    # A table between two others, which Django makes for a field of many keys, is drawn as one line between them.
    models = {model._meta.db_table: model for model in apps.get_models()}
    ours = {table: model for table, model in models.items() if model._meta.app_label in FLOORS}
    lines = set(re.findall(r"^  (\w+) [|}o]{2}--[o|{]{2} (\w+) : (\w+)$", page(), re.MULTILINE))
    missing, seen = [], 0
    with connection.cursor() as cursor:
        for table, model in ours.items():
            assert re.search(rf"^  {model.__name__} {{$", page(), re.MULTILINE)
            for column, pointed in connection.introspection.get_relations(cursor, table).items():
                line = (ours[pointed[1]].__name__, model.__name__, column.removesuffix("_id"))
                seen += 1
                missing += [line] if line not in lines else []
    assert seen > 100
    assert missing == []


def test_sqlite_checks_its_file_without_this_program(tables: Path) -> None:
    """A backup is checked by SQLite alone, which has none of the functions that Django brings to a constraint."""
    with closing(sqlite3.connect(f"file:{tables}?mode=ro", uri=True)) as plain:
        made = [sql or "" for (sql,) in plain.execute("SELECT sql FROM sqlite_master")]
    assert any("CHECK" in sql for sql in made)
    assert [sql for sql in made if re.search(r"\bdjango_\w+\(", sql)] == []
