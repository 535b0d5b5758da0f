"""Tables of common meetings and of who stands in: what a row is taken for, what it may say, and taking it back.

What a meeting and a cover are, is what docs/together.md and docs/happenings.md say; no outside source.
"""

import datetime as dt

import pytest

from accounts.models import Person, Substitution
from schedule.imports.files.export import export_rows
from schedule.imports.services.tables import import_undo
from schedule.imports.tables.columns import Table
from schedule.imports.tables.serving import COMMON_MEETINGS, COVERS
from schedule.meetings.models import CommonMeeting
from schedule.meetings.services import common_meeting_answer, common_meeting_save
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.covers.test_arranging import held, ill, missed
from tests.schedule.day_builders import Day, make_day
from tests.schedule.imports.district import ALL, commit, only_problem, preview, problems, to_csv, warnings

pytestmark = pytest.mark.django_db
MEETINGS_HEAD = ALL["common-meetings"].partition("\n")[0]
COVERS_HEAD = ALL["covers"].partition("\n")[0]
SAME = {"new": 0, "changed": 0, "removed": 0}


def meeting(row: str) -> str:
    return f"{MEETINGS_HEAD}\n{row}\n"


def cover(*rows: str) -> str:
    return "\n".join([COVERS_HEAD, *rows, ""])


def own_rows(viewer: Person, table: Table) -> bytes:
    """What a person would download."""
    return to_csv(table.headers, export_rows(viewer, table))


def tally(viewer: Person, table: Table) -> dict[str, int]:
    """What reading the own rows back would do."""
    batch = preview(viewer, table.kind, own_rows(viewer, table))
    assert problems(batch) == []
    found: dict[str, int] = batch.content["tallies"][table.kind]
    return found


def team(cast: Cast, by: Person | None = None) -> CommonMeeting:
    """The teacher's hour with the other one, on Thursdays."""
    commit(by or cast.teacher, "common-meetings", meeting("Team hour,Thursday,,,,,14:30,15:00,,,,mate"))
    return CommonMeeting.objects.get()


# ---- common meetings -------------------------------------------------------------------------------------------


def test_a_teacher_asks_the_others(cast: Cast) -> None:
    row = team(cast)
    assert (row.called_by, [*row.teachers.all()], [*row.asked.all()]) == (cast.teacher, [cast.teacher], [cast.mate])
    assert tally(cast.teacher, COMMON_MEETINGS) == {**SAME, "same": 1}
    assert tally(cast.mate, COMMON_MEETINGS) == {**SAME, "same": 1}


@pytest.mark.parametrize("username", ["teacher", "coordinator"])
def test_a_common_lunch_is_left_as_it_is(cast: Cast, username: str) -> None:
    """It isn't among the rows, and a row of its title is a meeting beside it, brought or undone."""
    actor = Person.objects.get(username=username)
    wanted = {"start": dt.time(11), "end": dt.time(13), "weekdays": [0, 2], "worth_minutes": 5}
    values = {**wanted, "people": [cast.teacher, cast.mate]}
    row = CommonMeeting(district=cast.district, kind=CommonMeeting.Kind.LUNCH)
    lunch = common_meeting_save(actor=cast.coordinator, row=row, values=values)
    assert list(export_rows(actor, COMMON_MEETINGS)) == []
    rows = meeting(f"{lunch.title},Thursday,,,,,11:00,13:00,,teacher,teacher,mate")
    batch = preview(actor, "common-meetings", rows.encode())
    assert (problems(batch), warnings(batch)) == ([], [])
    batch = commit(actor, "common-meetings", rows)
    assert CommonMeeting.objects.filter(kind=CommonMeeting.Kind.MEETING).count() == 1
    import_undo(actor=actor, batch=batch)
    kept = CommonMeeting.objects.get()
    assert (kept.pk, kept.kind, {*kept.teachers.all()}) == (lunch.pk, "lunch", {cast.teacher, cast.mate})
    assert {name: getattr(kept, name) for name in wanted} == wanted


def test_a_coordinator_brings_what_another_called(cast: Cast) -> None:
    """Who said yes and who is still asked stay what they were elsewhere; undone, nothing of it is left."""
    rows = meeting("Team hour,Thursday,,,,,14:30,15:00,,teacher,teacher,mate")
    batch = commit(cast.coordinator, "common-meetings", rows)
    row = CommonMeeting.objects.get()
    assert (row.called_by, [*row.teachers.all()], [*row.asked.all()]) == (cast.teacher, [cast.teacher], [cast.mate])
    assert tally(cast.coordinator, COMMON_MEETINGS) == {**SAME, "same": 1}
    import_undo(actor=cast.coordinator, batch=batch)
    assert not CommonMeeting.objects.exists()


def test_a_row_is_taken_for_the_meeting_of_its_title(cast: Cast) -> None:
    """Said in the preview; who said yes to the other time is asked again; undone it is as it was."""
    row = team(cast)
    common_meeting_answer(actor=cast.mate, row=row, comes=True)
    text = meeting("team hour,Friday,,,,,14:30,15:00,,,,mate")
    batch = commit(cast.teacher, "common-meetings", text)
    row.refresh_from_db()
    assert (row.weekday, [*row.teachers.all()], [*row.asked.all()]) == (4, [cast.teacher], [cast.mate])
    import_undo(actor=cast.teacher, batch=batch)
    row.refresh_from_db()
    assert (row.weekday, {*row.teachers.all()}, [*row.asked.all()]) == (3, {cast.teacher, cast.mate}, [])
    batch = preview(cast.teacher, "common-meetings", text)
    (warning,) = warnings(batch)
    assert warning.message == "This row is taken for “Team hour”, Every Thursday, 2:30 to 3:00."
    (told,) = batch.content["outcomes"]["common-meetings"]
    assert "mate said yes and is asked again" in told[2]


def test_a_meeting_of_its_own_comes_with_the_row_of_the_other(cast: Cast) -> None:
    team(cast)
    both = meeting("Team hour,Thursday,,,,,14:30,15:00,,,,mate\nTeam hour,Friday,,,,,14:30,15:00,,,,mate")
    batch = commit(cast.teacher, "common-meetings", both)
    assert batch.content["tallies"]["common-meetings"] == {**SAME, "new": 1, "same": 1}
    assert set(CommonMeeting.objects.values_list("weekday", flat=True)) == {3, 4}


@pytest.mark.parametrize(
    ("who", "row", "column"),
    [
        ("teacher", "Team hour,Thursday,,,,,14:30,15:00,,,mate,", "In it"),
        ("coordinator", "Team hour,Thursday,,,,,14:30,15:00,,,teacher; mate,", "In it"),
        ("coordinator", "Other,Thursday,,,,,14:30,15:00,,,teacher,mate", "Asked"),
        ("coordinator", "Other,Thursday,,,,,15:30,16:00,,,teacher; nobody,", "In it"),
        ("coordinator", "Other,Thursday,,,,,15:30,16:00,,nobody,teacher; mate,", "Called by"),
        ("coordinator", "Team hour,Thursday,,,,,14:30,15:10,,coordinator,teacher,mate", "Called by"),
        ("coordinator", "Other,Thursday,,,,,15:30,16:00,,,mate,", ""),
        ("coordinator", "Other,Thursday,,,,,14:45,16:00,,,teacher; mate,", "Start"),
        ("mate", "Team hour,Thursday,,,,,14:30,15:10,,teacher,teacher,mate", ""),
        ("teacher", "Other,Thursday,,,,,15:30,16:00,,mate,teacher; mate,", "Called by"),
    ],
)
def test_what_a_row_may_not_say(cast: Cast, who: str, row: str, column: str) -> None:
    """It answers for nobody, changes nobody else's meeting, and has nobody in two places."""
    team(cast)
    found = problems(preview(getattr(cast, who), "common-meetings", meeting(row)))
    assert found, row
    assert {one.row for one in found} == {2}
    assert column in {one.column for one in found}
    assert all(one.remedy for one in found)


# ---- who stands in ---------------------------------------------------------------------------------------------


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """A Monday at 6:40 with four sessions."""
    return make_day(cast, monkeypatch)


def test_what_an_absence_logged_is_logged_anew(day: Day) -> None:
    """As when it is entered under People: the sessions are held after all, and fall out when it is undone."""
    cast = day.cast
    ill(day)
    assert missed() == 5
    text = cover(f",substitute,,{MONDAY},{MONDAY},")
    assert "logged anew" in " ".join(one.message for one in warnings(preview(cast.teacher, "covers", text)))
    assert missed() == 5
    batch = commit(cast.teacher, "covers", text)
    assert (len(held(day, cast.teacher)), missed()) == (4, 0)
    import_undo(actor=cast.teacher, batch=batch)
    assert (held(day, cast.teacher), missed()) == ([], 5)
    assert not Substitution.objects.exists()


def test_some_sessions_alone_come_back_as_they_went(day: Day) -> None:
    cast, one = day.cast, day.sessions[2]
    ill(day)
    commit(cast.teacher, "covers", cover(f",substitute,,{MONDAY},{MONDAY},{MONDAY} {one.start:%-H:%M}"))
    assert held(day, cast.substitute) == [f"{one.start:%H:%M}"]
    assert missed() == 4
    for viewer in (cast.teacher, cast.coordinator):
        assert tally(viewer, COVERS) == {**SAME, "same": 1}
    problem = only_problem(preview(cast.teacher, "covers", cover(f",substitute,,{MONDAY},{MONDAY},{MONDAY} 7:00")))
    assert (problem.column, problem.message) == (
        "Only these sessions", f"No session of this teacher is planned for {MONDAY} 07:00.",
    )  # fmt: skip


def test_a_corrected_day_changes_the_cover(cast: Cast) -> None:
    """One more day, and another first day, which the preview says is taken for it."""
    commit(cast.coordinator, "covers", cover("teacher,substitute,,2026-10-05,2026-10-06,"))
    text = cover("teacher,substitute,,2026-10-05,2026-10-07,")
    (told,) = preview(cast.coordinator, "covers", text).content["outcomes"]["covers"]
    assert told == [2, "changed", ["Last day: 2026-10-06 → 2026-10-07"]]
    text = cover("teacher,substitute,,2026-10-06,2026-10-07,")
    batch = preview(cast.coordinator, "covers", text)
    (warning,) = warnings(batch)
    assert warning.message.startswith("This row is taken for")
    batch = commit(cast.coordinator, "covers", text)
    row = Substitution.objects.get()
    assert (row.first_date, row.last_date) == (dt.date(2026, 10, 6), dt.date(2026, 10, 7))
    import_undo(actor=cast.coordinator, batch=batch)
    row.refresh_from_db()
    assert (row.first_date, row.last_date) == (dt.date(2026, 10, 5), dt.date(2026, 10, 6))


def test_who_came_by_a_link_is_a_name(cast: Cast) -> None:
    """Known by it when the row comes back; nobody can sign in as them, and undone they are gone."""
    batch = commit(cast.coordinator, "covers", cover("teacher,,Kim Aster,2025-10-14,2025-10-15,"))
    person = Person.objects.get(by_link=True)
    assert (person.called, person.has_usable_password(), person.district) == ("Kim Aster", False, cast.district)
    assert tally(cast.coordinator, COVERS) == {**SAME, "same": 1}
    longer = preview(cast.coordinator, "covers", cover("teacher,,kim aster,2025-10-14,2025-10-16,"))
    assert longer.content["outcomes"]["covers"] == [[2, "changed", ["Last day: 2025-10-15 → 2025-10-16"]]]
    import_undo(actor=cast.coordinator, batch=batch)
    assert not Person.objects.filter(by_link=True).exists()


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("teacher,,,2026-10-05,2026-10-06,", "Substitute"),
        ("teacher,substitute,Kim Aster,2026-10-05,2026-10-06,", "Substitute"),
        ("teacher,mate,,2026-10-05,2026-10-06,", "Substitute"),
        ("nobody,substitute,,2026-10-05,2026-10-06,", "Teacher"),
        ("teacher,substitute,,2026-10-06,2026-10-05,", "Last day"),
        ("mate,substitute,,2025-10-14,2025-10-14,", "Substitute"),
        ("teacher,,Kim Aster,2999-10-05,2999-10-06,", "Name"),
        ("teacher,,Lee Fenn,2025-10-13,2025-10-15,", "Name"),
    ],
)
def test_a_wrong_row_of_a_cover_is_told_where(cast: Cast, row: str, column: str) -> None:
    commit(cast.coordinator, "covers", cover("teacher,substitute,,2025-10-13,2025-10-15,"))
    problem = only_problem(preview(cast.coordinator, "covers", cover(row)))
    assert (problem.row, problem.column) == (2, column)
    assert problem.remedy


def test_a_teacher_brings_covers_of_the_own_days_alone(cast: Cast) -> None:
    problem = only_problem(preview(cast.teacher, "covers", cover("mate,substitute,,2026-10-05,2026-10-06,")))
    assert (problem.row, problem.column) == (2, "Teacher")
    commit(cast.coordinator, "covers", cover("mate,substitute,,2026-10-05,2026-10-06,"))
    assert list(export_rows(cast.teacher, COVERS)) == []
