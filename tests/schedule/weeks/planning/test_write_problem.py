"""The problem of a teacher's week as a file: what the planner is asked, without a name, nothing saved."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from caseload.plans.models import Student
from schedule.planner.jsonform import problem_from_json
from schedule.planner.solve import solve
from schedule.weeks.models import PlanRun, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line, make_week

pytestmark = pytest.mark.django_db


def written(cast: Cast, file: Path, **options: object) -> str:
    call_command("write_problem", file, teacher=cast.teacher.username, monday=MONDAY, stdout=StringIO(), **options)
    return file.read_text(encoding="utf-8")


def test_the_file_is_what_the_planner_is_asked(cast: Cast, tmp_path: Path) -> None:
    """Both sessions of the one service, found places for by the solver that reads the file; the pin stays."""
    make_ground(cast)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "9:20")])
    week.sessions.update(pinned=True)
    problem = problem_from_json(json.loads(written(cast, tmp_path / "week.json")))
    assert [service.sessions for service in problem.services] == [2]
    assert [pin.day for pin in problem.pins] == [MONDAY.isoformat()]
    result = solve(problem, workers=1)
    assert result.figures is not None
    assert result.figures.unplaced == 0
    assert not PlanRun.objects.exists()
    assert WeekPlan.objects.get() == week


def test_no_name_of_a_student_is_in_it(cast: Cast, tmp_path: Path) -> None:
    make_ground(cast)
    make_line(cast, "G1")
    text = written(cast, tmp_path / "week.json")
    names = {name for row in Student.objects.values_list("first_name", "last_name") for name in row if name}
    assert names
    assert [name for name in names if name in text] == []
    assert "G1" in text


def test_what_is_missing_or_cant_be_written_is_said(cast: Cast, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="Your rules are missing"):
        written(cast, tmp_path / "week.json")
    make_ground(cast)
    with pytest.raises(CommandError, match="can't be written"):
        written(cast, tmp_path / "none" / "week.json")
    with pytest.raises(CommandError, match="isn't the sign-in name"):
        call_command("write_problem", tmp_path / "week.json", teacher="nobody")
