"""Dataclasses to and from plain JSON values, with errors that name the place in the file."""

import types
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from typing import Any, Union, get_args, get_origin, get_type_hints

from schedule.planner.problem import Problem
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Result

NAMES = {int: "a whole number", float: "a number", bool: "true or false"}
FORMAT = "week-problem/1"

type Json = dict[str, "Json"] | list["Json"] | str | int | float | bool | None


def to_json(value: object) -> Json:
    """A dataclass (or tuple, mapping, enum, plain value) as JSON values; private fields are left out."""
    if is_dataclass(value) and not isinstance(value, type):
        return {
            one.name: to_json(getattr(value, one.name)) for one in fields(value) if not one.name.startswith("_")
        }
    if isinstance(value, Mapping):
        return {str(key): to_json(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [to_json(inner) for inner in value]
    if isinstance(value, Enum):
        return str(value.value)
    if value is None or isinstance(value, str | int | float | bool):
        return value
    raise TypeError(f"{type(value).__name__} has no JSON form")


def problem_to_json(problem: Problem) -> Json:
    """The problem as the documented file format."""
    data = to_json(problem)
    assert isinstance(data, dict)  # noqa: S101 - a dataclass always becomes an object
    return {"format": FORMAT, **data}


def result_to_json(result: Result) -> Json:
    """The result as the documented answer; each stage with its gap."""
    data = to_json(result)
    assert isinstance(data, dict)  # noqa: S101 - a dataclass always becomes an object
    stages: list[Json] = []
    for stage in result.stages:
        entry = to_json(stage)
        assert isinstance(entry, dict)  # noqa: S101 - a dataclass always becomes an object
        stages.append({**entry, "gap": round(stage.gap, 4)})
    return {**data, "stages": stages}


def problem_from_json(data: object) -> Problem:
    """Read the documented file format. Raises ``ProblemError`` naming the field and the remedy."""
    if not isinstance(data, dict):
        raise ProblemError("file", "The file is not a JSON object.", "See docs/problem-file.md.")
    if data.get("format") != FORMAT:
        raise ProblemError("format", f"It is {data.get('format')!r}.", f'Write "format": "{FORMAT}".')
    body = {key: value for key, value in data.items() if key != "format"}
    problem = from_json(Problem, body, "")
    assert isinstance(problem, Problem)  # noqa: S101 - from_json returns the class it is given
    return problem


def from_json(kind: Any, data: object, path: str) -> Any:
    """Read one value of the given type. Raises ``ProblemError`` naming the path inside the file."""
    origin = get_origin(kind)
    if origin in {Union, types.UnionType}:
        return _read_optional(kind, data, path)
    if origin is tuple:
        return _read_tuple(kind, data, path)
    if origin in {dict, Mapping}:
        return _read_mapping(kind, data, path)
    if isinstance(kind, type) and is_dataclass(kind):
        return _read_dataclass(kind, data, path)
    return _read_plain(kind, data, path)


def _wrong(path: str, data: object, wanted: str) -> ProblemError:
    shown = type(data).__name__
    return ProblemError(path or "file", f"Expected {wanted}, found {shown}.", f"Write {wanted} here.")


def _read_optional(kind: Any, data: object, path: str) -> Any:
    if data is None:
        return None
    inner = [one for one in get_args(kind) if one is not type(None)]
    return from_json(inner[0], data, path)


def _read_tuple(kind: Any, data: object, path: str) -> Any:
    if not isinstance(data, list):
        raise _wrong(path, data, "a list")
    arguments = get_args(kind)
    if arguments[-1] is Ellipsis:
        return tuple(from_json(arguments[0], one, f"{path}[{n}]") for n, one in enumerate(data))
    if len(data) != len(arguments):
        raise _wrong(path, data, f"a list of {len(arguments)} values")
    return tuple(
        from_json(one, inner, f"{path}[{n}]") for n, (one, inner) in enumerate(zip(arguments, data, strict=True))
    )


def _read_mapping(kind: Any, data: object, path: str) -> Any:
    if not isinstance(data, dict):
        raise _wrong(path, data, "an object")
    inner = get_args(kind)[1]
    return {key: from_json(inner, value, f"{path}[{key}]") for key, value in data.items()}


def _read_plain(kind: Any, data: object, path: str) -> Any:
    if isinstance(kind, type) and issubclass(kind, Enum):
        choices = [str(one.value) for one in kind]
        if data not in choices:
            raise ProblemError(path, f"{data!r} is not known.", f"Use one of {', '.join(choices)}.")
        return kind(data)
    if kind is int and isinstance(data, int) and not isinstance(data, bool):
        return data
    if kind in {str, bool} and isinstance(data, kind):
        return data
    if kind is float and isinstance(data, int | float) and not isinstance(data, bool):
        return float(data)
    raise _wrong(path, data, NAMES.get(kind, "text"))


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _read_dataclass(kind: type, data: object, path: str) -> Any:
    if not isinstance(data, dict):
        raise _wrong(path, data, "an object")
    known = {one.name: one for one in fields(kind) if one.init}
    for key in data:
        if key not in known:
            raise ProblemError(_join(path, str(key)), "This field is not known.", "Remove or rename it.")
    hints = get_type_hints(kind)
    values = {name: from_json(hints[name], data[name], _join(path, name)) for name in known if name in data}
    _require_all(known, values, path)
    try:
        return kind(**values)
    except ProblemError as error:
        raise ProblemError(_join(path, error.field), error.message, error.remedy) from error


def _require_all(known: dict[str, Field[Any]], values: dict[str, Any], path: str) -> None:
    for name, one in known.items():
        optional = one.default is not MISSING or one.default_factory is not MISSING
        if name not in values and not optional:
            raise ProblemError(_join(path, name), "This field is missing.", "Add it.")
