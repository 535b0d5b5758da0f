"""What the docs say of settings, files and names is so."""

import ast
import importlib
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import global_settings

ROOT = Path(__file__).resolve().parents[3]
FLOORS = ("accounts", "caseload", "config", "jobs", "schedule", "travel")
DOCS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
OF_LIBRARIES = ("AXES_", "CELERY_", "REST_FRAMEWORK", "SPECTACULAR_", "WHITENOISE_")
OF_THE_PROGRAM = {"BASE_DIR", "MAILERS"}
"""Where the program lies, and what it makes of MAIL_HOST: nothing that anybody sets."""


PLACEHOLDER = r"/(?!README)[A-Z]{3,}\b"
"""A part of a path in capitals stands for a name of the reader's choice."""


def _sources() -> Iterator[ast.Module]:
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    for line in listed.stdout.splitlines():
        if line.split("/")[0] in FLOORS:
            yield ast.parse((ROOT / line).read_text(encoding="utf-8"))


def _text(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _variable_read(node: ast.AST) -> str | None:
    """The environment variable that an expression reads, if it reads one."""
    if isinstance(node, ast.Subscript) and ast.unparse(node.value) in {"os.environ", "env"}:
        return _text(node.slice)
    if isinstance(node, ast.Call) and node.args:
        called = ast.unparse(node.func)
        if called.startswith("env.") or called in {"env", "os.getenv", "os.environ.get"}:
            return _text(node.args[0])
    return None


def _variables_read() -> set[str]:
    """Every environment variable that the program reads by its name."""
    return {name for tree in _sources() for node in ast.walk(tree) if (name := _variable_read(node)) is not None}


def _own_settings_read() -> set[str]:
    """Every setting of our own (not Django's, not a library's) that the program reads from Django's settings."""
    read = {
        node.attr
        for tree in _sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "settings" and node.attr.isupper()
    }
    ours = set(
        re.findall(r"^([A-Z][A-Z_]+)\b", (ROOT / "config/settings.py").read_text(encoding="utf-8"), re.MULTILINE)
    )
    return {
        name for name in read & ours if not hasattr(global_settings, name) and not name.startswith(OF_LIBRARIES)
    }


def _settings_of_the_table() -> set[str]:
    """The names in the first column of the table of settings."""
    lines = (ROOT / "docs/running.md").read_text(encoding="utf-8").splitlines()
    begin = next(number for number, line in enumerate(lines) if line.startswith("| variable |"))
    rows: list[str] = []
    for line in lines[begin + 2 :]:
        if not line.startswith("|"):
            break
        rows.append(line.split("|")[1])
    return {name for row in rows for name in re.findall(r"`([A-Z_]+)`", row)}


def test_the_table_holds_every_setting_that_is_read() -> None:
    read = _variables_read() | (_own_settings_read() - OF_THE_PROGRAM)
    assert {"DATABASE_URL", "MAIL_PASSWORD", "JOBS_LONGEST_SECONDS"} <= read
    assert read - _settings_of_the_table() == set()


def test_the_table_holds_no_setting_that_nothing_reads() -> None:
    by_libraries = {"NUMBA_CACHE_DIR"}
    assert _settings_of_the_table() - _variables_read() - _own_settings_read() == by_libraries


def _code_spans(page: Path) -> list[str]:
    return re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL))


@pytest.mark.parametrize("page", DOCS, ids=lambda page: page.name)
def test_files_that_a_page_names_exist(page: Path) -> None:
    """Any path below a top folder of the house, and any link to a file."""
    named = [
        span
        for span in _code_spans(page)
        if re.fullmatch(rf"({'|'.join((*FLOORS, 'tests', 'docs', 'benchmarks', 'fixtures'))})/[\w./-]+", span)
    ]
    links = [link for link in re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8")) if ":" not in link]
    missing = [name for name in named if not (ROOT / name).exists() and not re.search(PLACEHOLDER, name)]
    missing += [link for link in links if not (page.parent / link).exists()]
    assert missing == []


@pytest.mark.parametrize("page", DOCS, ids=lambda page: page.name)
def test_names_of_code_that_a_page_gives_exist(page: Path) -> None:
    """Any dotted name that begins with an app."""
    named = {span for span in _code_spans(page) if re.fullmatch(rf"({'|'.join(FLOORS)})(\.\w+)+", span)}
    assert [name for name in sorted(named) if not _exists(name)] == []


def _exists(name: str) -> bool:
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        try:
            found: object = importlib.import_module(".".join(parts[:length]))
        except ModuleNotFoundError:
            continue
        return all((found := getattr(found, part, None)) is not None for part in parts[length:])
    return False
