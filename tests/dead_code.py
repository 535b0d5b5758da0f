"""Names of the program that nothing in the program uses; a use in tests is none.

``python -m tests.dead_code`` prints them and fails if there are any. vulture reads the code, and what it can't see
is told to it: names in templates, names written as strings (columns of a query, dotted paths of the settings), and
what libraries read off classes (``Meta``, members of an enumeration, what a serializer shows of a dataclass).
Names that Django and other libraries call by convention stand in pyproject.toml (``tool.dead-code``), with reasons.
"""

import ast
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from keyword import iskeyword
from pathlib import Path

from vulture.core import Item, Vulture

ROOT = Path(__file__).resolve().parents[1]
_TAG = re.compile(r"\{[{%](.*?)[%}]\}", re.DOTALL)
_PATH = re.compile(r"[A-Za-z_][\w.]*")
_ENUMERATIONS = ("Enum", "Choices")
_BY_METHOD = "serializers.SerializerMethodField"


def template_names(text: str) -> set[str]:
    """Every word inside the tags and variables of a template."""
    return {word for tag in _TAG.findall(text) for word in re.findall(r"[A-Za-z_]\w*", tag)}


def string_names(tree: ast.Module) -> set[str]:
    """Names in strings that hold nothing but a name, or names joined by dots or double underscores."""
    values = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)]
    paths = [value for value in values if isinstance(value, str) and _PATH.fullmatch(value)]
    return {name for path in paths for name in re.split(r"\.|__", path)}


def _assigned(node: ast.ClassDef) -> dict[str, str]:
    """Names to which the body of a class gives a value or a type, with the source of the type or else the value."""
    found: dict[str, str] = {}
    for line in node.body:
        if isinstance(line, ast.Assign):
            found |= {ast.unparse(one): ast.unparse(line.value) for one in line.targets}
        elif isinstance(line, ast.AnnAssign):
            found[ast.unparse(line.target)] = ast.unparse(line.annotation)
    return found


def _shown(classes: Mapping[str, Mapping[str, str]], metas: Iterable[Mapping[str, str]]) -> set[str]:
    """The dataclasses that a serializer's ``Meta`` names, and those that their fields hold in turn."""
    found: set[str] = set()
    waiting = [meta["dataclass"] for meta in metas if "dataclass" in meta]
    while waiting:
        name = waiting.pop()
        if name in classes and name not in found:
            found.add(name)
            waiting += [word for kind in classes[name].values() for word in re.findall(r"\w+", kind)]
    return found


def class_names(trees: Sequence[ast.Module]) -> set[str]:
    """What libraries read off classes."""
    nodes = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    bodies = [(node, _assigned(node)) for node in nodes]
    metas = [body for node, body in bodies if node.name == "Meta"]
    shown = _shown({node.name: body for node, body in bodies}, metas)
    enumerations = [
        body for node, body in bodies if any(ast.unparse(b).endswith(_ENUMERATIONS) for b in node.bases)
    ]
    read = [*metas, *enumerations, *(body for node, body in bodies if node.name in shown)]
    fields = [name for _, body in bodies for name, value in body.items() if value.startswith(_BY_METHOD)]
    return {"Meta", *fields, *(f"get_{name}" for name in fields)}.union(*read)


def unused_names(
    folders: Iterable[Path], *, ignore_names: Iterable[str] = (), ignore_decorators: Iterable[str] = ()
) -> Iterator[Item]:
    """What is defined in the folders and used nowhere in them, in order of place. Migrations are left out."""
    finder = Vulture(ignore_names=list(ignore_names), ignore_decorators=list(ignore_decorators))
    names: set[str] = set()
    trees: list[ast.Module] = []
    for folder in folders:
        for file in sorted(folder.rglob("*.py")):
            if "migrations" in file.parts:
                continue
            code = file.read_text(encoding="utf-8")
            trees.append(ast.parse(code))
            finder.scan(code, filename=file)
        for kind in ("*.html", "*.txt"):
            for file in folder.rglob(kind):
                names |= template_names(file.read_text(encoding="utf-8"))
    names = names.union(class_names(trees), *map(string_names, trees))
    uses = "\n".join(f"_.{name}" for name in sorted(names) if name.isidentifier() and not iskeyword(name))
    finder.scan(uses, filename=Path("names that vulture can't see"))
    yield from finder.get_unused_code()


def main() -> int:
    """Print what is unused; 1 if anything is."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["dead-code"]
    found = [
        item
        for item in unused_names(
            [ROOT / folder for folder in settings["folders"]],
            ignore_names=settings["ignore-names"],
            ignore_decorators=settings["ignore-decorators"],
        )
        if str(Path(item.filename).relative_to(ROOT)) not in settings["ignore-files"]
    ]
    for item in found:
        print(f"{Path(item.filename).relative_to(ROOT)}:{item.first_lineno}: {item.message}")  # noqa: T201
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
