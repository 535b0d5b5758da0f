"""Tables of activities, equipment and routines: what they bring, and what is refused in which words."""

import pytest

from schedule.class_hour.models import Routine, RoutinePart
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from schedule.imports.files.export import export_rows
from schedule.imports.files.values import write_goals
from schedule.imports.services.tables import import_undo
from schedule.imports.tables.lessons import ROUTINES, STATIONS
from schedule.stations.models import Station, StationGoal
from tests.caseload.progress.builders import make_goal
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit, commit_all, only_problem, preview, problems

ORDER = ("buildings", "bell-schedules", "classes", "activities", "equipment", "routines")


def test_a_routine_comes_with_its_parts_in_order(cast: Cast) -> None:
    """Of its class, with what each part takes; sent again it is the same."""
    commit_all(cast.teacher, ORDER)
    routine = Routine.objects.get()
    first, second = routine.parts.all()
    assert (str(routine.school_class), routine.attention_minutes, routine.on_shelf) == ("Room 4", 8, True)
    assert (str(first), first.when_short, first.is_known) == (
        "Shadow walk",
        RoutinePart.Short.NEVER_FALLS_OUT,
        True,
    )
    assert (str(second), [str(need) for need in second.needs.all()]) == ("Spots", ["10 Poly spots"])
    assert Equipment.objects.count() == 1
    assert sorted(row.usable for row in EquipmentStock.objects.all()) == [5, 12]
    for kind in ("activities", "equipment", "routines"):
        tally = preview(cast.teacher, kind, ALL[kind]).content["tallies"][kind]
        assert (tally["new"], tally["changed"]) == (0, 0), kind


def test_parts_that_the_file_leaves_out_are_taken_out(cast: Cast) -> None:
    """And can be brought back on the routine's page."""
    commit_all(cast.teacher, ORDER)
    commit(cast.teacher, "routines", "\n".join(ALL["routines"].splitlines()[:2]))
    assert [str(part) for part in RoutinePart.objects.in_use()] == ["Shadow walk"]
    assert RoutinePart.objects.count() == 2


@pytest.mark.parametrize(
    ("kind", "before", "after", "column", "words"),
    [
        ("routines", "10 Poly spots", "10 poly dots", "Equipment", "Did you mean “Poly spots”?"),
        ("routines", "Shadow walk", "Shadow talk", "Activity", "Did you mean “Shadow walk”?"),
        ("routines", ",9,6,", ",9,12,", "Least minutes", "least length is longer"),
        ("routines", ",other,Spots,", ",other,,", "Part name", "Name this part"),
        ("activities", "contact; exertion", "conttact", "Caution tags", "Did you mean “contact”?"),
        ("equipment", "8,0,1,2", "2,0,1,2", "Count", "Count them again"),
        ("equipment", "ELM", "OAK", "Building code", "OAK"),
    ],
)
def test_what_is_refused_says_how_to_mend_it(
    cast: Cast, kind: str, before: str, after: str, column: str, words: str
) -> None:
    """By row and column; nothing of the table is saved."""
    commit_all(cast.teacher, ORDER[: ORDER.index(kind)])
    assert before in ALL[kind]
    problem = only_problem(preview(cast.teacher, kind, ALL[kind].replace(before, after)))
    assert problem.column in {column, ""}
    assert words in f"{problem.message} {problem.remedy}"


def with_variant(goals: str = "") -> str:
    """The table with a variant of one part in front of its routine, off the shelf and with a column for goals."""
    head, *rows = ALL["routines"].replace("8,yes,", "8,no,").splitlines()
    variant = "Room 4 lesson,,Lower energy,,,Short parts,8,no,warm up,,Shadow walk,,,4,2,,,,,,,,,"
    return "\n".join([f"{head},Goals", f"{variant},{goals}", *(f"{row}," for row in rows)])


def test_a_variant_comes_with_its_routine_and_goes_out_with_it(cast: Cast) -> None:
    """Wherever it stands in the file; sent back as it is given out it changes nothing; undone it is gone."""
    commit_all(cast.teacher, ORDER[:-1])
    batch = commit(cast.teacher, "routines", with_variant())
    original, variant = Routine.objects.get(variant_of=None), Routine.objects.get(variant="Lower energy")
    assert (variant.variant_of, str(variant), variant.usual_minutes) == (original, "Room 4 lesson: Lower energy", 4)
    given = export_rows(cast.teacher, ROUTINES)
    text = "\n".join([",".join(ROUTINES.headers), *(",".join(row) for row in given)])
    assert "Lower energy" in text
    tally = preview(cast.teacher, "routines", text).content["tallies"]["routines"]
    assert (tally["new"], tally["changed"], tally["removed"]) == (0, 0, 0)
    import_undo(actor=cast.teacher, batch=batch)
    assert not Routine.objects.exists()


def test_a_part_says_which_goals_it_serves(cast: Cast) -> None:
    """By the student's code and the goal's number; cleared by an empty cell, and by taking the import back."""
    commit_all(cast.teacher, (*ORDER[:-1], "students", "goals"))
    commit(cast.teacher, "routines", with_variant())
    batch = commit(cast.teacher, "routines", with_variant("K01 2; K02 1"))
    part = RoutinePart.objects.get(routine__variant="Lower energy")
    assert sorted((one.student.code, one.position) for one in part.goals.all()) == [("K01", 2), ("K02", 1)]
    assert "K01 2; K02 1" in [row[-1] for row in export_rows(cast.teacher, ROUTINES)]
    import_undo(actor=cast.teacher, batch=batch)
    assert not part.goals.exists()


@pytest.mark.parametrize(
    ("goals", "words"),
    [
        ("K01", "names no goal"),
        ("K01 99", "K01 has no goal 99"),
        ("K99 1", "No student of yours has the code"),
        ("K01 123456789", "has no goal"),
    ],
)
def test_a_goal_that_isnt_there_says_how_to_mend_it(cast: Cast, goals: str, words: str) -> None:
    """At its cell; nothing is saved."""
    commit_all(cast.teacher, (*ORDER[:-1], "students", "goals"))
    problem = next(
        one for one in problems(preview(cast.teacher, "routines", with_variant(goals))) if one.column == "Goals"
    )
    assert words in problem.message
    assert problem.remedy


def test_a_variant_of_nothing_and_one_with_a_class_are_refused(cast: Cast) -> None:
    """Each at its column."""
    commit_all(cast.teacher, ORDER[:-1])
    alone = "\n".join(with_variant().splitlines()[:2])
    assert only_problem(preview(cast.teacher, "routines", alone)).column == "Variant"
    classed = with_variant().replace("Lower energy,,,", "Lower energy,ELM,RM4,")
    assert only_problem(preview(cast.teacher, "routines", classed)).column == "Class code"


def test_a_class_needs_its_building_and_one_routine_says_the_same_in_all_rows(cast: Cast) -> None:
    """Two problems, each in its own words."""
    commit_all(cast.teacher, ORDER[:-1])
    problem = only_problem(preview(cast.teacher, "routines", ALL["routines"].replace("ELM", "")))
    assert "in which building the class is" in problem.message
    mixed = ALL["routines"].replace("Short parts,8,yes,other", "Short parts,9,yes,other")
    assert any("differs from row" in one.message for one in problems(preview(cast.teacher, "routines", mixed)))
    assert not Routine.objects.exists()
    assert Activity.objects.count() == 2


GROUP = """\
Routine,Group,Part,Minutes,Least minutes
Two at the wall,K01; K02,warm up,5,3
Two at the wall,K01; K02,cool down,5,3
"""


def test_a_routine_of_a_group_comes_and_goes_out_with_its_students(cast: Cast) -> None:
    """Sent back it changes nothing; an unknown code is named; a variant has the group of its routine."""
    commit_all(cast.teacher, (*ORDER[:-1], "students"))
    commit(cast.teacher, "routines", GROUP)
    routine = Routine.objects.get()
    assert sorted(routine.students.values_list("code", flat=True)) == ["K01", "K02"]
    given = export_rows(cast.teacher, ROUTINES)
    text = "\n".join([",".join(ROUTINES.headers), *(",".join(row) for row in given)])
    assert preview(cast.teacher, "routines", text).content["tallies"]["routines"]["changed"] == 0
    first_row = GROUP.rsplit("\nTwo", 1)[0] + "\n"
    unknown = only_problem(preview(cast.teacher, "routines", first_row.replace("K02", "K99")))
    assert (unknown.column, "K99" in unknown.message) == ("Group", True)
    variant = "Routine,Variant,Group,Part,Minutes,Least minutes\nTwo at the wall,Short,K01,warm up,3,2\n"
    assert only_problem(preview(cast.teacher, "routines", variant)).column == "Group"
    batch = commit(cast.teacher, "routines", GROUP.replace("K01; K02", "K01"))
    assert [one.code for one in routine.students.all()] == ["K01"]
    import_undo(actor=cast.teacher, batch=batch)
    assert routine.students.count() == 2


def test_a_station_says_which_goals_it_serves(cast: Cast) -> None:
    """Goals of students whom somebody else sees stay; sent back it changes nothing; undone it is as before."""
    commit_all(cast.teacher, ("buildings", "bell-schedules", "classes", "students", "goals"))
    plain = "Station,Goals\nBeam,K01 2; K02 1\n"
    commit(cast.teacher, "stations", plain)
    station = Station.objects.get()
    assert _served(station) == ["K01 2", "K02 1"]
    others = StationGoal.objects.create(station=station, goal=make_goal(cast.mates_student))
    assert write_goals([("K01", 2), ("K02", 1)]) in [row[-1] for row in export_rows(cast.teacher, STATIONS)]
    assert preview(cast.teacher, "stations", plain).content["tallies"]["stations"]["same"] == 1
    batch = commit(cast.teacher, "stations", "Station,Goals\nBeam,K01 1\n")
    assert _served(station) == ["K01 1", f"{others.goal.student.code} {others.goal.position}"]
    import_undo(actor=cast.teacher, batch=batch)
    assert _served(station)[:2] == ["K01 2", "K02 1"]
    problem = only_problem(preview(cast.teacher, "stations", "Station,Goals\nBeam,K01 9\n"))
    assert (problem.column, problem.message) == ("Goals", "K01 has no goal 9.")


def _served(station: Station) -> list[str]:
    return sorted(
        f"{one.goal.student.code} {one.goal.position}" for one in station.goals.select_related("goal__student")
    )
