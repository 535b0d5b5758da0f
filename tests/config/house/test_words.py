"""One word for a thing, one thing for a word: docs/words.md against the code, the pages and the docs."""

import ast
import re
import subprocess
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
WORDS = ROOT / "docs" / "words.md"
# Django finds a command by its module, and each must call its class so.
BY_DESIGN = {"Command"}
# A form's field and a serializer's bear the name that both libraries give them.
ONE_A_LIBRARY = {"accounts/fields.py", "accounts/api_fields.py"}


def listed(*patterns: str) -> list[str]:
    """Files of the project that git knows, those just made among them; migrations are as they were."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *patterns]
    names = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    return sorted(name for name in set(names) if "/migrations/" not in name and (ROOT / name).exists())


def code() -> list[str]:
    """The program's own modules."""
    return [name for name in listed("*.py") if name.split("/")[0] not in {"tests", "benchmarks", "script"}]


def owners(sources: Iterable[tuple[str, str]]) -> dict[str, set[str]]:
    """The files that define each public class."""
    found: dict[str, set[str]] = defaultdict(set)
    for name, text in sources:
        for node in ast.parse(text).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name].add(name)
    return found


def shared(found: dict[str, set[str]]) -> dict[str, set[str]]:
    """Those that more than one file defines."""
    return {
        name: files
        for name, files in found.items()
        if len(files) > 1 and name not in BY_DESIGN and not files <= ONE_A_LIBRARY
    }


def test_no_two_public_classes_bear_one_name() -> None:
    """Whoever reads a name need not look up from where it was imported."""
    found = owners((name, (ROOT / name).read_text()) for name in code())
    assert "Student" in found
    assert shared(found) == {}


def test_a_second_owner_is_seen() -> None:
    """The test above can fail."""
    assert shared(owners([("a/b.py", "class Place: ..."), ("a/c.py", "class Place: ...")])) == {
        "Place": {"a/b.py", "a/c.py"}
    }


def unused() -> list[str]:
    """The words of the last columns."""
    rows = [line.split("|") for line in WORDS.read_text().splitlines() if line.startswith("| ")]
    words = [word.strip() for row in rows if len(row) == 5 for word in row[3].split(",")]
    return [word for word in words if word and word not in {"not", "---"}]


def test_words_that_stand_for_the_same_are_not_used() -> None:
    """Neither by a reader's eye nor in an identifier."""
    words = unused()
    assert len(words) > 3
    pattern = re.compile(rf"(?<![a-z])(?:{'|'.join(words)})s?(?![a-z])".replace(" ", "[ _-]"), re.IGNORECASE)
    faults = []
    for name in [*code(), *listed("*.html", "*.md", "*.txt")]:
        if ROOT / name == WORDS:
            continue
        for number, line in enumerate((ROOT / name).read_text().splitlines(), 1):
            faults += [f"{name}:{number}: {found[0]}" for found in pattern.finditer(line)]
    assert faults == []
