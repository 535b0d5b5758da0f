"""Rows of services that are there already: from which day their terms hold, and what that does to minutes."""

import datetime as dt

import pytest

from caseload.plans.models import ServiceLine
from schedule.imports.models import ImportBatch
from schedule.imports.services.tables import import_undo
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_entry, make_ground
from tests.schedule.imports.district import commit, preview
from tests.schedule.log_builders import publish_session

HEAD = "Student code,Plan start,Plan end,Statement,Setting,Largest group,From\n"
ROW = "S01,2026-09-01,2027-06-18,{statement},{setting},{group},{day}\n"


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The cast with a school year and bells; S01 owes 2 x 30 a week from September 1, 2026, one to one."""
    make_ground(cast)
    publish_session(MONDAY, [cast.line])
    return cast


def table(statement: str = "3 x 30 min/week", day: str = "", setting: str = "one to one", group: int = 1) -> str:
    """One row of the cast's service."""
    return HEAD + ROW.format(statement=statement, day=day, setting=setting, group=group)


def outcome(batch: ImportBatch) -> list[str]:
    """What the preview says of the one row."""
    ((_, action, words),) = batch.content["outcomes"]["plans"]
    assert action == "changed"
    return list(words)


def test_other_terms_without_a_day_are_a_question(ground: Cast) -> None:
    """Nothing is guessed: the row asks from which day, and says how to answer either way."""
    batch = preview(ground.teacher, "plans", table())
    (problem,) = batch.content["problems"]
    assert (problem["row"], problem["column"]) == (2, "From")
    assert "2 x 30 min/week, one to one, with Teacher Vey" in problem["message"]
    assert "September 1, 2026" in problem["remedy"]
    assert ServiceLine.objects.get().statement == "2 x 30 min/week"


def test_a_day_begins_the_new_terms(ground: Cast) -> None:
    """From Thursday, October 8: two versions of one service. 60 a week before, 90 after, 72 between.

    36 minutes of three days of 60 a week and 36 of two days of 90.
    """
    batch = preview(ground.teacher, "plans", table(day="2026-10-08"))
    words = outcome(batch)
    assert words[:2] == ["From October 8, 2026", "Statement: 2 x 30 min/week → 3 x 30 min/week"]
    assert any("week of October 5, 2026: owed 60 → 72" in one for one in words)
    assert any("each: owed 60 → 90" in one for one in words)
    assert ServiceLine.objects.count() == 1
    batch = commit(ground.teacher, "plans", table(day="2026-10-08"))
    before, after = ServiceLine.objects.order_by("start")
    assert (before.end, after.start, after.statement) == (
        dt.date(2026, 10, 7),
        dt.date(2026, 10, 8),
        "3 x 30 min/week",
    )
    assert (before.service, before.service.revision) == (after.service, 2)
    import_undo(actor=ground.teacher, batch=batch)
    assert ServiceLine.objects.get().end == ground.plan.end
    assert ServiceLine.objects.get().service.revision == 1


def test_the_first_day_of_the_service_says_that_it_was_always_wrong(ground: Cast) -> None:
    """Then the past changes, which the preview says."""
    batch = preview(ground.teacher, "plans", table(day="2026-09-01"))
    assert any("from September 14, 2026" in one and "owed 60 → 90" in one for one in outcome(batch))
    commit(ground.teacher, "plans", table(day="2026-09-01"))
    assert [one.statement for one in ServiceLine.objects.all()] == ["3 x 30 min/week"]


def test_another_setting_from_a_day_changes_the_service(ground: Cast) -> None:
    """With the day it is the same service; without, a row with another setting adds one, as before."""
    small = {"statement": "2 x 30 min/week", "setting": "small group", "group": 3}
    assert preview(ground.teacher, "plans", table(**small)).content["tallies"]["plans"]["new"] == 1  # type: ignore[arg-type]
    commit(ground.teacher, "plans", table(day="2026-10-08", **small))  # type: ignore[arg-type]
    assert [one.setting for one in ServiceLine.objects.order_by("start")] == ["one_to_one", "small_group"]
    assert len({one.service_id for one in ServiceLine.objects.all()}) == 1


def test_a_day_on_which_nothing_holds_is_said(ground: Cast) -> None:
    """No second service is made of what was meant as a change."""
    batch = preview(ground.teacher, "plans", table(day="2027-07-01", setting="small group", group=3))
    (problem,) = batch.content["problems"]
    assert problem["column"] == "From"
    assert "none holds then" in problem["message"]


def test_what_says_nothing_of_minutes_needs_no_day(ground: Cast) -> None:
    """How far apart its days are: planning only."""
    text = "Student code,Plan start,Plan end,Statement,Days apart\nS01,2026-09-01,2027-06-18,2 x 30 min/week,2\n"
    assert outcome(preview(ground.teacher, "plans", text)) == ["Days apart: 1 → 2"]


def test_the_next_plan_s_row_goes_on_with_the_service(ground: Cast) -> None:
    """Of the same type and setting, beginning the day after: one service in two plans."""
    row = "S01,2027-06-19,2028-06-16,2 x 30 min/week,one to one,1,\n"
    commit(ground.teacher, "plans", HEAD + row)
    assert len({one.service_id for one in ServiceLine.objects.all()}) == 1
    assert ServiceLine.objects.count() == 2


def test_a_students_move_says_what_it_does_to_minutes(ground: Cast) -> None:
    """South is closed for the week of the move: nothing is owed then. A new grade alone says nothing of minutes."""
    for day in range(14, 19):
        make_entry(ground, MONDAY + dt.timedelta(days=day), "closed", ground.south)
    head = "Student code,First name,Last name,Grade,Building code,From\n"
    moves = f"{head}S01,Ola,Tarn S01,3,{ground.south.code},2026-09-28\n"
    batch = preview(ground.teacher, "students", moves)
    ((_, action, words),) = batch.content["outcomes"]["students"]
    assert action == "changed"
    assert "From September 28, 2026" in words
    assert any("week of September 28, 2026: owed 60 \N{RIGHTWARDS ARROW} 0" in one for one in words)
    assert not any(one.endswith(".") for one in words), "clauses of a list"
    grade = preview(ground.teacher, "students", f"{head}S01,Ola,Tarn S01,4,{ground.north.code},2026-09-28\n")
    ((_, _, words),) = grade.content["outcomes"]["students"]
    assert words == ["Grade: 3 \N{RIGHTWARDS ARROW} 4"]
