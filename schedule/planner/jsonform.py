"""Problems and results to and from plain JSON values, by pydantic, with errors that name the place in the file.

pydantic reads the dataclasses themselves, strictly: nothing is made a number that isn't one, and a field that there
isn't is an error. What it finds is said here in the file's words, with what to write instead.
"""

import json
from functools import cache
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError, create_model
from pydantic_core import ErrorDetails

from schedule.planner.problem import Problem
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Result, Stage

FORMAT = "week-problem/1"

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
_KEYED = ("drive_minutes",)
"""Fields that hold values by ids, which are no fields."""


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
    if data.get("format") != FORMAT:
        raise ProblemError("format", f"It is {data.get('format')!r}.", f'Write "format": "{FORMAT}".')
    return from_json(Problem, {key: value for key, value in data.items() if key != "format"})


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
    wanted = _WANTED.get(kind, "something else")
    return ProblemError(path or "file", f"Expected {wanted}, found {_shown(value)}.", f"Write {wanted} here.")


def _choices(found: ErrorDetails) -> str:
    expected: str = found["ctx"]["expected"]
    return expected.replace("'", "").replace(" or ", ", ")


def _shown(value: Any) -> str:
    return _KINDS.get(type(value)) or json.dumps(value, ensure_ascii=False)


def _path(places: tuple[int | str, ...]) -> str:
    """``days[0].end``; ``drive_minutes[north][south]``."""
    path, keyed = "", False
    for place in places:
        inside = keyed or isinstance(place, int)
        path += f"[{place}]" if inside else f".{place}" if path else str(place)
        keyed = keyed or place in _KEYED
    return path
