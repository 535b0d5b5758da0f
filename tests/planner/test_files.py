"""The problem file: round trip, published schema, examples, errors, and the command that needs no database."""

import codecs
import json
import math
from io import StringIO
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from django.core.management import CommandError, call_command

from benchmarks.weeks import WeekShape, generate_week
from schedule.planner.jsonform import from_json, problem_from_json, problem_to_json, result_to_json
from schedule.planner.requirements import ProblemError
from schedule.planner.result import Result
from schedule.planner.solve import solve
from tests.planner.builders import random_tiny_week

DOCS = Path(__file__).parents[2] / "docs"
EXAMPLES = sorted((DOCS / "examples").glob("*.json"))


def schema() -> dict[str, Any]:
    """The published JSON Schema."""
    loaded: dict[str, Any] = json.loads((DOCS / "problem.schema.json").read_text(encoding="utf-8"))
    return loaded


def example(path: Path) -> dict[str, Any]:
    """An example file's data."""
    loaded: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def test_a_result_survives_the_round_trip() -> None:
    result = solve(problem_from_json(example(EXAMPLES[0])), workers=1)
    data = json.loads(json.dumps(result_to_json(result)))
    data["stages"] = [{k: v for k, v in stage.items() if k != "gap"} for stage in data["stages"]]
    assert from_json(Result, data) == result


def test_there_are_four_examples() -> None:
    assert len(EXAMPLES) == 4


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_example_fits_the_schema_and_is_read(path: Path) -> None:
    data = example(path)
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(data, schema(), cls=jsonschema.Draft202012Validator)
    problem = problem_from_json(data)
    assert problem_from_json(json.loads(json.dumps(problem_to_json(problem)))) == problem


@pytest.mark.parametrize("seed", range(40))
def test_any_problem_survives_the_round_trip_and_fits_the_schema(seed: int) -> None:
    for problem in (random_tiny_week(seed), generate_week(WeekShape(8), seed)):
        data = json.loads(json.dumps(problem_to_json(problem)))
        jsonschema.validate(data, schema(), cls=jsonschema.Draft202012Validator)
        assert problem_from_json(data) == problem


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"format": "week-problem/0"}, "format"),
        ({"places": None}, "places"),
        ({"color": "red"}, "color"),
        ({"setup_minutes": "five"}, "setup_minutes"),
        ({"setup_minutes": True}, "setup_minutes"),
        ({"goals": ["unplaced", "beauty"]}, "goals[1]"),
        ({"days": [{"id": "d", "start": 500, "end": 400}]}, "days[0].end"),
        ({"days": [{"id": "d", "start": 500}]}, "days[0].end"),
        ({"places": [{"id": "a", "arrive_minutes": -1}]}, "places[0].arrive_minutes"),
    ],
)
def test_an_error_names_the_field_and_a_remedy(change: dict[str, Any], field: str) -> None:
    data = example(EXAMPLES[0]) | change
    with pytest.raises(ProblemError) as caught:
        problem_from_json(data)
    assert caught.value.field == field
    assert caught.value.remedy
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(
            data if field != "days[0].end" or "end" not in data["days"][0] else {},
            schema(),
            cls=jsonschema.Draft202012Validator,
        )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"setup_minutes": "five"},
            'setup_minutes: Expected a whole number, found "five". Write a whole number here.',
        ),
        ({"setup_minutes": 5.0}, "setup_minutes: Expected a whole number, found 5.0. Write a whole number here."),
        ({"setup_minutes": True}, "setup_minutes: Expected a whole number, found true. Write a whole number here."),
        ({"title": 5}, "title: Expected text, found 5. Write text here."),
        ({"places": {}}, "places: Expected a list, found an object. Write a list here."),
        ({"days": ["mon"]}, 'days[0]: Expected an object, found "mon". Write an object here.'),
        ({"drive_minutes": []}, "drive_minutes: Expected an object, found a list. Write an object here."),
        (
            {"drive_minutes": {"north": {"south": None}}},
            "drive_minutes[north][south]: Expected a whole number, found null. Write a whole number here.",
        ),
        (
            {"goals": ["beauty"]},
            "goals[0]: 'beauty' is not known. Use one of unplaced, wishes, driving, change, sameness.",
        ),
        ({"days": [{"id": "d"}]}, "days[0].start: This field is missing. Add it."),
        ({"places": [{"id": "a", "x": 1}]}, "places[0].x: This field is not known. Remove or rename it."),
        ({"places": [{"id": "a"}, {"id": "a"}]}, "places: The id 'a' is used twice. Use each id once."),
    ],
)
def test_an_error_says_place_value_and_remedy(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ProblemError) as caught:
        problem_from_json(example(EXAMPLES[0]) | change)
    assert str(caught.value) == said


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_solve_week_plans_each_example(path: Path, tmp_path: Path) -> None:
    output = tmp_path / "plan.json"
    call_command("solve_week", path, output=output, quiet=True, workers=1, stderr=StringIO())
    answer = json.loads(output.read_text(encoding="utf-8"))
    assert answer["status"] in {"optimal", "feasible"}
    assert [day["day"] for day in answer["plan"]["days"]] == [day["id"] for day in example(path)["days"]]
    proved = {stage["goal"]: stage["status"] for stage in answer["stages"]}
    assert proved["unplaced"] == proved["driving"] == "optimal"
    assert all(stage["gap"] == 0 for stage in answer["stages"] if stage["status"] == "optimal")


def test_solve_week_prints_json_alone_and_progress_apart() -> None:
    out, err = StringIO(), StringIO()
    call_command("solve_week", EXAMPLES[2], workers=1, stdout=out, stderr=err)
    assert json.loads(out.getvalue())["figures"]["unplaced"] == 0
    assert "first plan, checked" in err.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"{", "not JSON"),
        (b"\xff\xfe", "not UTF-8"),
        (b"[]", "not a JSON object"),
        (b'{"format": "week-problem/1"}', "places"),
        ('{"title": "ä"}'.encode("utf-16"), "not UTF-8 text. Save it as UTF-8"),
        (b'{"title": "a",\n"title": "b"}', "title: This key is given twice in one object. Keep one of them"),
        (b'{"services": [{"id": "x", "minutes": 5, "minutes": 6}]}', "minutes of 'x': This key is given twice"),
        (b"[" * 100_000, "more than 100 levels deep"),
        (b'{"format": ' + b"[" * 500 + b"]" * 500 + b"}", "more than 100 levels deep"),
        (b'{"setup_minutes": ' + b"9" * 5000 + b"}", "9… has 5000 digits. Write the number meant"),
        (b'{"setup_minutes": -' + b"9" * 19 + b"}", "has 20 digits"),
        (b'{"setup_minutes": NaN}', "NaN is no number in JSON"),
    ],
)
def test_solve_week_says_what_is_wrong_with_a_file(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "bad.json"
    path.write_bytes(content)
    with pytest.raises(CommandError, match=said):
        call_command("solve_week", path, stderr=StringIO())


def test_a_byte_order_mark_is_passed_over(tmp_path: Path) -> None:
    """RFC 8259, 8.1: a reader may ignore a byte-order mark rather than treat it as an error."""
    path, output = tmp_path / "marked.json", tmp_path / "plan.json"
    path.write_bytes(codecs.BOM_UTF8 + EXAMPLES[0].read_bytes())
    call_command("solve_week", path, output=output, quiet=True, workers=1, stderr=StringIO())
    assert json.loads(output.read_text(encoding="utf-8"))["figures"]


@pytest.mark.parametrize(("origin", "to"), [("nowhere", "office"), ("office", "nowhere")])
def test_drives_of_unknown_places_are_refused(origin: str, to: str) -> None:
    data = example(DOCS / "examples" / "two-buildings.json")
    data["drive_minutes"].setdefault(origin, {})[to] = 5
    with pytest.raises(ProblemError, match=rf"^drive_minutes\[{origin}\].*There is no place 'nowhere'"):
        problem_from_json(data)


def test_text_that_is_no_text_is_refused_in_words(tmp_path: Path) -> None:
    """Half a surrogate pair is JSON and can't be written as UTF-8."""
    path = tmp_path / "half.json"
    text = (DOCS / "examples" / "two-buildings.json").read_text(encoding="utf-8")
    path.write_text(text.replace('"name": "', '"name": "\\ud800', 1), encoding="utf-8")
    with pytest.raises(CommandError, match=r"half\.json: .*surrogate"):
        call_command("solve_week", path, stderr=StringIO())


def test_solve_week_says_that_a_file_is_missing(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="Check the path"):
        call_command("solve_week", tmp_path / "none.json", stderr=StringIO())


@pytest.mark.parametrize("options", [{"workers": 0}, {"time_limit": 0.0}, {"effort": 0.0}, {"effort": math.nan}])
def test_solve_week_refuses_no_time_and_no_workers(options: dict[str, Any]) -> None:
    with pytest.raises(CommandError, match="at least one worker"):
        call_command("solve_week", EXAMPLES[0], stderr=StringIO(), **options)
