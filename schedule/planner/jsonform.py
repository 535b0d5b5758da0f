"""Problems and results to and from plain JSON values, by pydantic, with errors that name the place in the file.

pydantic reads the dataclasses themselves, strictly: nothing is made a number that isn't one, and a field that there
isn't is an error. What it finds is said here in the file's words, with what to write instead.
"""

import hashlib
import json
from collections.abc import Iterable
from functools import cache
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError, create_model
from pydantic_core import ErrorDetails

from schedule.planner.problem import Problem
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Result, Stage

FORMAT = "week-problem/1"

MOST_LEVELS = 100
"""Lists and objects inside each other. A problem has seven."""

MOST_DIGITS = 18
"""Of a whole number: what the search counts with (64 bits) holds any of so many."""

type Json = dict[str, "Json"] | list["Json"] | str | int | float | bool | None

_WANTED = {
    "int_type": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "string_type": "text",
    "tuple_type": "a list",
    "dict_type": "an object",
    "mapping_type": "an object",
    "dataclass_type": "an object",
}
_KINDS = {dict: "an object", list: "a list", type(None): "null"}
MOST_SHOWN = 60
"""Letters of a value from the file in a message."""
_KEYED = ("drive_minutes",)
"""Fields that hold values by ids, which are no fields."""


def json_from_bytes(content: bytes) -> object:
    """What a JSON file in UTF-8 holds. Raises ``ProblemError`` with the line where it can be told, and the remedy.

    Stricter than ``json.loads``: a key that is given twice is refused (it would keep the last one and say nothing),
    so is a number that the search can't count with. A byte-order mark is passed over, as RFC 8259, 8.1, allows.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ProblemError("file", "It is not UTF-8 text.", "Save it as UTF-8.") from error
    try:
        return json.loads(text, object_pairs_hook=_each_once, parse_int=_whole, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise ProblemError(f"line {error.lineno}", f"This is not JSON ({error.msg}).", "Fix that line.") from error
    except RecursionError as error:
        raise _too_deep() from error


def _each_once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for number, key in enumerate(keys) if key in keys[:number])
        where = found.get("id")
        inside = f" of {where!r}" if isinstance(where, str) else ""
        raise ProblemError(f"{_cut(twice)}{inside}", "This key is given twice in one object.", "Keep one of them.")
    return found


def _whole(digits: str) -> int:
    if len(digits) <= MOST_DIGITS:
        return int(digits)
    raise ProblemError("file", f"The number {_cut(digits)} has {len(digits)} digits.", "Write the number meant.")


def _no_number(word: str) -> None:
    raise ProblemError("file", f"{word} is no number in JSON.", "Write the number meant.")


def _cut(text: str) -> str:
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}…"


def _too_deep() -> ProblemError:
    return ProblemError(
        "file",
        f"Lists and objects stand inside each other more than {MOST_LEVELS} levels deep.",
        "See docs/problem-file.md for the fields that there are.",
    )


def _require_shallow(data: object) -> None:
    """Level by level, so that no depth is too much for it."""
    level = [data]
    for _ in range(MOST_LEVELS):
        level = [inner for one in level for inner in _inside(one)]
        if not level:
            return
    raise _too_deep()


def _require_text(data: object) -> None:
    try:
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError as error:
        half = error.object[error.start].encode("ascii", "backslashreplace").decode("ascii")
        raise ProblemError(
            "file", f"A text holds {half}, half a surrogate pair.", "Write the whole character."
        ) from error


def _inside(value: object) -> Iterable[object]:
    if isinstance(value, dict):
        return value.values()
    return value if isinstance(value, list) else ()


def problem_to_json(problem: Problem) -> dict[str, Json]:
    """The problem as the documented file format."""
    return {"format": FORMAT, **_plain(Problem, problem)}


def result_to_json(result: Result) -> dict[str, Json]:
    """The result as the documented answer; each stage with its gap."""
    stages: list[Json] = [{**_plain(Stage, stage), "gap": round(stage.gap, 4)} for stage in result.stages]
    return {**_plain(Result, result), "stages": stages}


def problem_from_json(data: object) -> Problem:
    """Read the documented file format. Raises ``ProblemError`` naming the field and the remedy."""
    if not isinstance(data, dict):
        raise ProblemError("file", "The file is not a JSON object.", "See docs/problem-file.md.")
    _require_shallow(data)
    _require_text(data)
    if data.get("format") != FORMAT:
        raise ProblemError("format", f"It is {data.get('format')!r}.", f'Write "format": "{FORMAT}".')
    return from_json(Problem, {key: value for key, value in data.items() if key != "format"})


def problem_digest(problem: Problem) -> str:
    """The same text for problems that are equal, in this program and the next one; another for any other."""
    text = json.dumps(_plain(Problem, problem), sort_keys=True)
    return hashlib.blake2b(text.encode("ascii"), digest_size=16).hexdigest()


def dataclass_to_json(value: object) -> dict[str, Json]:
    """A dataclass as JSON values, for ``from_json`` to read again."""
    return _plain(type(value), value)


def from_json[Read](kind: type[Read], data: object) -> Read:
    """Read JSON values as a dataclass. Raises ``ProblemError`` naming the path inside the file and the remedy."""
    try:
        # As text: only there a list may stand for a tuple and a word for a member of an enumeration, and no more.
        reader = _reader(kind)  # type: ignore[arg-type]  # a class can be hashed
        file = reader.model_validate_json(json.dumps({"content": data}))
    except ValidationError as error:
        raise _told(error.errors()[0]) from error
    content: Read = file.content  # type: ignore[attr-defined]  # the one field that _reader gives it
    return content


@cache
def _reader(kind: Any) -> type[BaseModel]:
    """A model around the dataclass: its strictness goes for all dataclasses inside, which say nothing of it."""
    config = ConfigDict(strict=True, extra="forbid")
    return create_model("File", __config__=config, content=(kind, ...))


@cache
def _writer(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def _plain(kind: Any, value: object) -> dict[str, Json]:
    plain: dict[str, Json] = _writer(kind).dump_python(value, mode="json")
    return plain


def _told(found: ErrorDetails) -> ProblemError:
    """The first thing that pydantic found, as an error of the file."""
    kind, path, value = found["type"], _path(found["loc"][1:]), found["input"]
    inner = found.get("ctx", {}).get("error")
    if isinstance(inner, ProblemError):
        field = f"{path}.{inner.field}" if path else inner.field
        return ProblemError(field, inner.message, inner.remedy)
    if kind == "unexpected_keyword_argument":
        return ProblemError(path, "This field is not known.", "Remove or rename it.")
    if kind == "missing":
        return ProblemError(path, "This field is missing.", "Add it.")
    if kind == "enum":
        return ProblemError(path, f"{value!r} is not known.", f"Use one of {_choices(found)}.")
    if kind not in _WANTED:
        return ProblemError(path or "file", f"{found['msg']}.", "Write it another way.")
    wanted = _WANTED[kind]
    return ProblemError(path or "file", f"Expected {wanted}, found {_shown(value)}.", f"Write {wanted} here.")


def _choices(found: ErrorDetails) -> str:
    expected: str = found["ctx"]["expected"]
    return expected.replace("'", "").replace(" or ", ", ")


def _shown(value: Any) -> str:
    return _KINDS.get(type(value)) or _cut(json.dumps(value, ensure_ascii=False))


def _path(places: tuple[int | str, ...]) -> str:
    """``days[0].end``; ``drive_minutes[north][south]``."""
    path, keyed = "", False
    for place in places:
        inside = keyed or isinstance(place, int)
        path += f"[{place}]" if inside else f".{place}" if path else str(place)
        keyed = keyed or place in _KEYED
    return path
