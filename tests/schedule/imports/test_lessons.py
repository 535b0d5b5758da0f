"""Tables of activities, equipment and routines: what they bring, and what is refused in which words."""

import pytest

from schedule.class_hour.models import Routine, RoutinePart
from schedule.equipment.models import Activity, Equipment, EquipmentStock
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


def test_a_class_needs_its_building_and_one_routine_says_the_same_in_all_rows(cast: Cast) -> None:
    """Two problems, each in its own words."""
    commit_all(cast.teacher, ORDER[:-1])
    problem = only_problem(preview(cast.teacher, "routines", ALL["routines"].replace("ELM", "")))
    assert "in which building the class is" in problem.message
    mixed = ALL["routines"].replace("Short parts,8,yes,other", "Short parts,9,yes,other")
    assert any("differs from row" in one.message for one in problems(preview(cast.teacher, "routines", mixed)))
    assert not Routine.objects.exists()
    assert Activity.objects.count() == 2
