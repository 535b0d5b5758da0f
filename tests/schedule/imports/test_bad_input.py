"""Every way to get a table wrong gets a message with row, column, value and remedy, and saves nothing."""

import pytest

from schedule.imports.files.problems import RowProblem
from tests.conftest import Cast
from tests.schedule.imports.district import (
    ALL,
    BELLS,
    BUILDINGS,
    commit_all,
    dump_database,
    only_problem,
    preview,
    problems,
    warnings,
)


def refused(cast: Cast, kind: str, text: str) -> RowProblem:
    """The one problem of a table; nothing was saved."""
    before = dump_database()
    problem = only_problem(preview(cast.teacher, kind, text))
    assert dump_database() == before
    assert problem.table == kind
    assert problem.message
    assert problem.remedy
    return problem


def test_overlapping_periods(cast: Cast) -> None:
    """Two periods of one schedule at one time."""
    commit_all(cast.teacher, ["buildings"])
    problem = refused(cast, "bell-schedules", BELLS.replace("9:20,10:05", "9:10,10:05"))
    assert (problem.row, problem.column) == (3, "Start")
    assert "Period 1" in problem.message
    assert "Period 2" in problem.message


def test_a_period_that_ends_before_it_starts(cast: Cast) -> None:
    """An afternoon time without PM."""
    commit_all(cast.teacher, ["buildings"])
    problem = refused(cast, "bell-schedules", BELLS.replace("8:00,9:00", "8:00,7:00"))
    assert problem.row == 6
    assert "Period 1" in problem.message


def test_service_minutes_longer_than_any_period(cast: Cast) -> None:
    """50 minutes where the longest period has 45."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "rotations", "spaces", "classes", "students"])
    problem = refused(cast, "plans", ALL["plans"].replace("2 x 30 min/week", "2 x 50 min/week"))
    assert (problem.row, problem.column, problem.value) == (2, "Statement", "2 x 50 min/week")
    assert "50 minutes" in problem.message
    assert "45 minutes" in problem.message


def test_a_plan_that_ends_before_it_begins(cast: Cast) -> None:
    """Start and end the wrong way round."""
    text = "Student code,Plan start,Plan end,Statement\nS01,2027-06-18,2026-09-08,2 x 30 min/week\n"
    problem = refused(cast, "plans", text)
    assert (problem.row, problem.column, problem.value) == (2, "Plan end", "2026-09-08")


@pytest.mark.parametrize("cell", ["", "NOWHERE"])
def test_a_student_in_no_building(cast: Cast, cell: str) -> None:
    """No building, or one that isn't there."""
    problem = refused(
        cast, "students", f"Student code,First name,Last name,Grade,Building code\nK09,Ola,Tarn,2,{cell}\n"
    )
    assert (problem.row, problem.column, problem.value) == (2, "Building code", cell)


def test_an_unknown_code_names_the_nearest(cast: Cast) -> None:
    """NROTH is near to NORTH."""
    problem = refused(cast, "spaces", "Building code,Space name\nNROTH,Gym\n")
    assert problem.remedy == "Did you mean “NORTH”?"


def test_two_buildings_at_one_place(cast: Cast) -> None:
    """The same coordinates twice in one file, and once in the database already."""
    commit_all(cast.teacher, ["buildings"])
    problem = refused(cast, "buildings", "Building code,Name,Latitude,Longitude\nOAK,Oak,43.2,-75.1\n")
    assert problem.row == 2
    assert "coordinates" in problem.message
    twice = "Building code,Name,Latitude,Longitude\nOAK,Oak,44.2,-75.1\nASH,Ash,44.200000,-75.100000\n"
    assert refused(cast, "buildings", twice).row == 3


def test_a_building_without_coordinates_is_a_warning(cast: Cast) -> None:
    """It can be saved; drives to it can't be estimated."""
    batch = preview(cast.teacher, "buildings", "Building code,Name\nOAK,Oak School\n")
    assert problems(batch) == []
    warning = warnings(batch)[0]
    assert (warning.row, warning.column) == (2, "Latitude")
    assert "Oak School" in warning.message


def test_coordinates_that_lie_far_off_are_a_warning_that_names_the_building(cast: Cast) -> None:
    """Swapped: the preview asks, and whoever saves it all the same has been asked."""
    text = "Building code,Name,Latitude,Longitude\nOAK,Oak School,-75.31,43.08\n"
    batch = preview(cast.teacher, "buildings", text)
    assert problems(batch) == []
    [warning] = warnings(batch)
    assert (warning.row, warning.column) == (2, "Latitude")
    assert warning.message.startswith("Oak School would lie ")
    assert "Latitude and longitude seem to be swapped" in warning.message


def test_one_coordinate_of_two(cast: Cast) -> None:
    """A latitude without a longitude."""
    assert refused(cast, "buildings", "Building code,Name,Latitude\nOAK,Oak School,44.1\n").row == 2


def test_an_unknown_time_zone(cast: Cast) -> None:
    """A zone that the IANA database doesn't hold."""
    problem = refused(cast, "buildings", BUILDINGS.replace("America/Chicago", "Eastern"))
    assert (problem.row, problem.column, problem.value) == (3, "Time zone", "Eastern")
    assert "America/New_York" in problem.message


def test_a_statement_that_cannot_be_read(cast: Cast) -> None:
    """What no grammar reads says so, with examples."""
    text = "Student code,Plan start,Plan end,Statement\nS02,2026-09-08,2027-06-18,now and then\n"
    before = dump_database()
    batch = preview(cast.mate, "plans", text)
    assert dump_database() == before
    problem = only_problem(batch)
    assert (problem.row, problem.column, problem.value) == (2, "Statement", "now and then")
    assert "2 x 30 min/week" in problem.message + problem.remedy


def test_duplicate_ids(cast: Cast) -> None:
    """One code twice, in capitals and not; the message names the first row."""
    problem = refused(cast, "buildings", f"{BUILDINGS}elm,Other,elementary,,44.9,-75.9,,5,3\n")
    assert (problem.row, problem.column, problem.value) == (4, "Building code", "elm")
    assert "row 2" in problem.message


def test_a_repeated_id_is_found_beside_another_problem(cast: Cast) -> None:
    """The first of two rows can't be read for another reason: both problems are told at once."""
    text = "Building code,Name,Latitude,Longitude\nOAK,Oak,north,-75\nOAK,Oak,44.1,-75\n"
    found = problems(preview(cast.teacher, "buildings", text))
    assert [(problem.row, problem.column) for problem in found] == [(2, "Latitude"), (3, "Building code")]


def test_a_row_that_stands_twice(cast: Cast) -> None:
    """In a table of sets a whole row may not be repeated."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "rotations", "spaces"])
    problem = refused(cast, "space-times", ALL["space-times"] + "FEN,gym,Day 3,Period 1,,\n")
    assert problem.row == 5
    assert "row 4" in problem.message


def test_days_and_periods_that_the_building_does_not_have(cast: Cast) -> None:
    """ELM counts no days; and it has no Period 9."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "rotations", "spaces"])
    text = "Building code,Space name,Days,Period\nELM,Gym,Day 3,Period 1\nELM,Field,Mon,Period 9\n"
    found = problems(preview(cast.teacher, "space-times", text))
    assert [(one.row, one.column, one.value) for one in found] == [
        (2, "Days", "Day 3"),
        (3, "Period", "Period 9"),
    ]


def test_rows_of_one_plan_that_disagree(cast: Cast) -> None:
    """Two ends for one plan."""
    text = (
        "Student code,Plan start,Plan end,Statement\n"
        "S01,2026-09-08,2027-06-18,2 x 30 min/week\nS01,2026-09-08,2027-06-11,30 min/month\n"
    )
    problem = refused(cast, "plans", text)
    assert (problem.row, problem.column, problem.value) == (3, "Plan end", "2027-06-11")


@pytest.mark.parametrize(
    ("kind", "column", "cell"),
    [
        ("bell-schedules", "Start", "25:00"),
        ("bell-schedules", "Period kind", "lunsh"),
        ("bell-schedules", "Passing minutes", "four"),
        ("bell-schedules", "Grades", "K-14"),
    ],
)
def test_cells_that_cannot_be_read(cast: Cast, kind: str, column: str, cell: str) -> None:
    """A cell of the wrong kind is named with what to write."""
    commit_all(cast.teacher, ["buildings"])
    lines = [line.split(",") for line in BELLS.strip().splitlines()[:2]]
    lines[1][lines[0].index(column)] = cell
    text = "\n".join(",".join(line) for line in lines)
    problem = refused(cast, kind, text)
    assert (problem.row, problem.column, problem.value) == (2, column, cell)


def test_every_problem_is_listed_at_once(cast: Cast) -> None:
    """Three faults in three rows are three problems, in the order of the rows."""
    text = "Building code,Name,Latitude,Longitude\n,Oak,44.1,-75\nASH,,44.2,-75\nYEW,Yew,north,-75\n"
    found = problems(preview(cast.teacher, "buildings", text))
    assert [(problem.row, problem.column) for problem in found] == [
        (2, "Building code"),
        (3, "Name"),
        (4, "Latitude"),
    ]


def test_blank_rows_are_passed_over_and_counted(cast: Cast) -> None:
    """The row's number is the one that the spreadsheet shows."""
    text = "Building code,Name,Latitude,Longitude\n\n,,,\nOAK,Oak,44.1,-75\n\nASH,Ash,x,-75\n"
    problem = refused(cast, "buildings", text)
    assert (problem.row, problem.value) == (6, "x")


def test_a_plan_of_another_teachers_student(cast: Cast) -> None:
    """A student whom the teacher can't see looks like one that isn't there."""
    text = "Student code,Plan start,Plan end,Statement\n{},2026-09-08,2027-06-18,2 x 30 min/week\n"
    hidden = refused(cast, "plans", text.format("S02"))
    absent = refused(cast, "plans", text.format("S03"))
    assert hidden.message.replace("S02", "S03") == absent.message
    assert hidden.remedy == absent.remedy
