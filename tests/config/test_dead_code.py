"""The check for dead code sees what is used by templates, strings and libraries, and what isn't used at all."""

from pathlib import Path

import pytest

from tests.dead_code import unused_names

MODULE = """
from dataclasses import dataclass
from enum import StrEnum

class Kind(StrEnum):
    GYM = "gym"

@dataclass
class Inner:
    shown_inside: int

@dataclass
class Outer:
    inner: tuple[Inner, ...]

@dataclass
class Apart:
    left_field: int

class OuterSerializer:
    rows = serializers.SerializerMethodField()
    class Meta:
        dataclass = Outer
    def get_rows(self): return 1
    def get_nothing(self): return 2

def in_template(): return 1
def in_string(): return 1
def nowhere(): return 1
print(Kind, Inner, Outer, Apart, OuterSerializer, "app.module.in_string", "a sentence about nowhere at all")
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "module.py").write_text(MODULE)
    (tmp_path / "page.html").write_text("<p>nowhere</p>{{ row.in_template }}{% if row.inner %}{% endif %}")
    (tmp_path / "migrations").mkdir()
    (tmp_path / "migrations" / "0001_initial.py").write_text("def left_alone(): return 1")
    return tmp_path


def test_what_nothing_uses_is_found_and_nothing_else(folder: Path) -> None:
    assert {item.name for item in unused_names([folder])} == {"nowhere", "get_nothing", "left_field"}


def test_what_libraries_call_is_left_out_by_name(folder: Path) -> None:
    found = {item.name for item in unused_names([folder], ignore_names=["get_*", "left_field"])}
    assert found == {"nowhere"}
