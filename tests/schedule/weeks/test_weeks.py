"""Weeks by hand: move, pin, take out, place, undo, publish, bring back; two editors; strangers."""

import datetime as dt
import json
from dataclasses import replace
from typing import Any

import pytest

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Substitution
from caseload.plans.models import ServiceLine, StudentHold
from caseload.plans.names import student_names
from caseload.plans.naming import unmarked
from caseload.plans.services import change_undo, service_change, service_line_delete, student_move
from schedule.weeks.models import DayItem, PlannedSession, UnplacedSession, WeekPlan
from schedule.weeks.planning.editing import edit_input, rearranged, with_session
from schedule.weeks.planning.outcome import dated
from schedule.weeks.selectors.weeks import (
    compare_weeks,
    session_options,
    unplaced_options,
    week_detail,
    week_get,
    week_in_force,
    week_versions,
)
from schedule.weeks.services.weeks import (
    week_discard,
    week_edit_undo,
    week_publish,
    week_restore,
    week_session_move,
    week_session_pin,
    week_session_place,
    week_session_remove,
)
from schedule.weeks.versions.content import WeekContent, content_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_entry, make_ground, make_line, make_week, minute


@pytest.fixture
def week(cast: Cast) -> WeekPlan:
    """A draft: S01 at 9:20 on Monday and Wednesday in the north, F1 at 13:15 on Monday in the south."""
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    own = f"line-{cast.line.pk}"
    return make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20"), (f"line-{far.pk}", date(0), "13:15")])


def published(cast: Cast, week: WeekPlan) -> WeekPlan:
    return week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)


def session_at(week: WeekPlan, day: dt.date, clock: str) -> PlannedSession:
    return PlannedSession.objects.get(week=week, date=day, start=at(clock))


def move(cast: Cast, week: WeekPlan, session: PlannedSession, day: dt.date, clock: str) -> WeekPlan:
    return week_session_move(
        actor=cast.teacher, week=week, uid=session.uid, date=day, start=at(clock), expected_revision=week.revision
    )


def rows_of(week: WeekPlan) -> set[tuple[dt.date, dt.time, str]]:
    return {(one.date, one.start, one.building.code) for one in PlannedSession.objects.filter(week=week)}


def test_a_week_shows_the_grade_of_its_days(cast: Cast, week: WeekPlan) -> None:
    """From Wednesday in grade 4: Monday's session is still a third grader's."""
    student_move(actor=cast.teacher, student=cast.student, from_day=date(2), values={"grade": "4"})
    sessions = [one for day in week_detail(cast.teacher, week).days for one in day.sessions]
    grades = [one.grade for session in sessions for one in session.attendees if one.code == "S01"]
    assert grades == ["3", "4"]


# ---- edits -----------------------------------------------------------------------------------------------


def test_the_built_week_keeps_every_rule(week: WeekPlan) -> None:
    assert week.figures["broken"] == []
    assert week.figures["minutes_owed"] == week.figures["minutes_placed"] == 90


def test_a_move_re_times_its_day(cast: Cast, week: WeekPlan) -> None:
    drives = DayItem.objects.filter(week=week, date=date(0), kind="drive")
    assert [(one.origin.code, one.building.code) for one in drives if one.origin and one.building] == [
        ("NORTH", "SOUTH")
    ]
    draft = move(cast, week, session_at(week, date(0), "9:20"), date(3), "10:10")
    assert draft.pk == week.pk
    assert (date(3), at("10:10"), "NORTH") in rows_of(draft)
    assert not DayItem.objects.filter(week=week, date=date(0), kind="drive").exists()
    assert DayItem.objects.filter(week=week, date=date(3), kind="lunch").count() == 1
    assert draft.figures["broken"] == []
    moved = session_at(draft, date(3), "10:10")
    assert (moved.period, moved.space, moved.end) == ("3", cast.gym, at("10:40"))


def test_a_move_against_a_rule_is_kept_and_flagged_and_not_published(cast: Cast, week: WeekPlan) -> None:
    StudentHold.objects.create(student=cast.student, reason="pt", days="Thu", period="3")
    draft = move(cast, week, session_at(week, date(0), "9:20"), date(3), "10:10")
    [sentence] = draft.figures["broken"]
    assert unmarked(sentence) == (
        "S01, Thursday 10:10 to 10:40: S01 can't be taken 10:10 to 10:55 (physical therapy) "
        "(ask the physical therapist)."
    )
    with pytest.raises(ApplicationError, match="physical therapy") as caught:
        published(cast, draft)
    assert caught.value.code == "rules_broken"
    assert "Ola Tarn S01, Thursday 10:10 to 10:40: Ola Tarn S01 can't be taken" in caught.value.message
    draft.refresh_from_db()
    assert draft.status == "draft"


def test_two_sessions_of_a_service_on_one_day_break_its_days_apart(cast: Cast, week: WeekPlan) -> None:
    draft = move(cast, week, session_at(week, date(2), "9:20"), date(0), "11:35")
    assert any("too close together" in one for one in draft.figures["broken"])


def test_a_drive_that_does_not_fit_is_flagged(cast: Cast, week: WeekPlan) -> None:
    far = session_at(week, date(0), "13:15")
    draft = move(cast, week, far, date(0), "9:55")
    broken = draft.figures["broken"]
    assert any(one.startswith("Monday: The drive to South Hollow School lasts until ") for one in broken)
    assert any(unmarked(one).endswith(", but F1 begins at 9:55.") for one in broken)
    told = " ".join(broken)
    assert "reached without a drive" not in told, "it is reached, too late"
    assert "free time" not in told


def test_taking_out_and_placing_again(cast: Cast, week: WeekPlan) -> None:
    session = session_at(week, date(0), "9:20")
    draft = week_session_remove(actor=cast.teacher, week=week, uid=session.uid, expected_revision=week.revision)
    row = UnplacedSession.objects.get(week=draft)
    assert (row.service_line, row.sessions, row.minutes) == (cast.line, 1, 30)
    assert draft.figures["minutes_owed"] - draft.figures["minutes_placed"] == 30
    options = unplaced_options(cast.teacher, draft, row.pk)
    good = next(one for one in options if not one.breaks and one.date == date(4))
    again = week_session_place(
        actor=cast.teacher,
        week=draft,
        unplaced=row,
        date=good.date,
        start=good.start,
        expected_revision=draft.revision,
    )
    assert not UnplacedSession.objects.filter(week=again).exists()
    assert again.figures["broken"] == []
    assert (good.date, good.start, "NORTH") in rows_of(again)


def test_undo_goes_back_edit_by_edit(cast: Cast, week: WeekPlan) -> None:
    states = [rows_of(week)]
    week = move(cast, week, session_at(week, date(0), "9:20"), date(3), "10:10")
    states.append(rows_of(week))
    session = session_at(week, date(3), "10:10")
    week = week_session_remove(actor=cast.teacher, week=week, uid=session.uid, expected_revision=week.revision)
    week = week_edit_undo(actor=cast.teacher, week=week, expected_revision=week.revision)
    assert rows_of(week) == states[1]
    week = week_edit_undo(actor=cast.teacher, week=week, expected_revision=week.revision)
    assert rows_of(week) == states[0]
    with pytest.raises(ApplicationError) as caught:
        week_edit_undo(actor=cast.teacher, week=week, expected_revision=week.revision)
    assert caught.value.code == "nothing_to_undo"


def test_the_second_of_two_editors_is_told(cast: Cast, week: WeekPlan) -> None:
    seen = week.revision
    session = session_at(week, date(0), "9:20")
    other = WeekPlan.objects.get(pk=week.pk)
    move(cast, week, session, date(3), "10:10")
    with pytest.raises(ApplicationError) as caught:
        week_session_move(
            actor=cast.coordinator,
            week=other,
            uid=session.uid,
            date=date(4),
            start=at("10:10"),
            expected_revision=seen,
        )
    assert caught.value.code == "changed_meanwhile"
    assert (date(3), at("10:10"), "NORTH") in rows_of(week)


def test_editing_a_published_week_makes_a_draft(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    before = rows_of(first)
    draft = move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10")
    assert (draft.status, draft.based_on) == ("draft", first)
    assert rows_of(first) == before
    undone = week_edit_undo(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    assert rows_of(undone) == before


def test_a_second_edit_of_a_published_week_goes_on_with_its_draft(cast: Cast, week: WeekPlan) -> None:
    """Of two drafts of one version only the first could be published, and the other's work would be lost."""
    first = published(cast, week)
    one = move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10")
    other = move(cast, first, session_at(first, date(2), "9:20"), date(4), "10:10")
    assert other == one
    assert {(date(3), at("10:10"), "NORTH"), (date(4), at("10:10"), "NORTH")} <= rows_of(other)
    assert published(cast, other).version == 2


def test_a_date_of_another_week_or_a_space_elsewhere_is_refused(cast: Cast, week: WeekPlan) -> None:
    session = session_at(week, date(0), "9:20")
    with pytest.raises(ApplicationError) as caught:
        move(cast, week, session, date(7), "9:20")
    assert caught.value.code == "other_week"
    far = cast.south.spaces.create(name="Hall", kind="gym")
    with pytest.raises(ApplicationError) as caught:
        week_session_move(
            actor=cast.teacher,
            week=week,
            uid=session.uid,
            date=date(3),
            start=at("9:20"),
            space=far,
            expected_revision=week.revision,
        )
    assert caught.value.code == "other_building"
    week.refresh_from_db()
    assert week.revision == 1


def test_an_edit_is_undone_after_the_service_s_change_was(cast: Cast, week: WeekPlan) -> None:
    """What the draft held before the edit stood under the version that went: it stands under the one before."""
    terms = {"statement": "1 x 30 min/week"}
    changed = service_change(actor=cast.teacher, row=cast.line, from_day=date(0), values=terms, seen=None)
    assert changed.pk != cast.line.pk
    first = session_at(week, date(0), "9:20")
    draft = move(cast, week, first, date(1), "9:20")
    change_undo(actor=cast.teacher, row=cast.line.service)
    back = week_edit_undo(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    again = session_at(back, date(0), "9:20")
    assert [one.service_line for one in again.attendees.all()] == [cast.line]


def test_undoing_an_edit_brings_no_deleted_service_back(cast: Cast, week: WeekPlan) -> None:
    """Taken out of the week, then deleted: the other sessions come back without it."""
    far = ServiceLine.objects.get(plan__student__code="F1")
    UnplacedSession.objects.all().delete()
    gone = PlannedSession.objects.get(week=week, attendees__service_line=far)
    draft = week_session_remove(actor=cast.teacher, week=week, uid=gone.uid, expected_revision=week.revision)
    UnplacedSession.objects.filter(service_line=far).delete()
    service_line_delete(actor=cast.teacher, row=far)
    back = week_edit_undo(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    assert rows_of(back) == {(date(0), at("9:20"), cast.north.code), (date(2), at("9:20"), cast.north.code)}


# ---- publishing ------------------------------------------------------------------------------------------


def test_publishing_numbers_versions_and_says_what_changed(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    assert (first.version, first.changes, first.published_by) == (1, ["First version of this week."], cast.teacher)
    uid = session_at(first, date(0), "9:20").uid
    second = published(cast, move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10"))
    first.refresh_from_db()
    assert (first.status, second.status, second.version) == ("replaced", "published", 2)
    moved = "moved from Monday 9:20 to 9:50 at North Hollow School, Gym to Thursday 10:10 to 10:40 at North Hollow"
    assert [unmarked(one) for one in second.changes] == [f"S01 {moved} School, Gym."]
    assert week_detail(cast.teacher, second).changes == (f"Ola Tarn S01 {moved} School, Gym.",)
    assert week_versions(cast.teacher, cast.teacher, MONDAY)[0].changes == (f"Ola Tarn S01 {moved} School, Gym.",)
    assert session_at(second, date(3), "10:10").uid == uid
    assert week_in_force(cast.teacher, cast.teacher, MONDAY) == second
    assert [one.version for one in week_versions(cast.teacher, cast.teacher, MONDAY)] == [2, 1]


def test_bringing_back_makes_a_new_version_with_the_old_content(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    before = rows_of(first)
    second = published(cast, move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10"))
    third = week_restore(actor=cast.teacher, week=second)
    second.refresh_from_db()
    assert (third.version, third.status, second.status) == (3, "published", "replaced")
    assert rows_of(third) == before
    assert session_at(third, date(0), "9:20").uid == session_at(first, date(0), "9:20").uid
    with pytest.raises(ApplicationError) as caught:
        week_restore(actor=cast.teacher, week=WeekPlan(district=cast.district, teacher=cast.teacher, version=1))
    assert caught.value.code == "no_version_before"


def test_bringing_back_lists_what_no_longer_fits(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    published(cast, move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10"))
    make_entry(cast, date(0), "closed")
    first.refresh_from_db()
    third = week_restore(actor=cast.teacher, week=first)
    assert third.status == "published"
    assert any("isn't a school day" in one for one in third.figures["broken"])


def test_a_draft_of_a_version_no_longer_in_force_is_not_published(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    begun = move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10")
    planned_again = make_week(cast, [(f"line-{cast.line.pk}", date(0), "9:20")])
    published(cast, planned_again)
    with pytest.raises(ApplicationError, match="Discard this draft") as caught:
        published(cast, begun)
    assert caught.value.code == "changed_meanwhile"


def test_only_a_draft_is_set_aside(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    with pytest.raises(ApplicationError) as caught:
        week_discard(actor=cast.teacher, week=first)
    assert caught.value.code == "not_editable"
    draft = move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10")
    assert week_discard(actor=cast.teacher, week=draft).status == "discarded"
    with pytest.raises(ApplicationError) as caught:
        move(cast, draft, session_at(draft, date(3), "10:10"), date(4), "10:10")
    assert caught.value.code == "not_editable"


# ---- options and comparison ------------------------------------------------------------------------------


def test_options_say_what_they_add_and_break(cast: Cast, week: WeekPlan) -> None:
    far = session_at(week, date(0), "13:15")
    options = {(one.date, one.start): one for one in session_options(cast.teacher, week, far.uid)}
    now = options[date(0), at("13:15")]
    assert (now.is_now, now.added_drive_minutes, now.breaks) == (True, 0, ())
    alone = options[date(1), at("13:15")]
    there = DayItem.objects.get(week=week, date=date(0), kind="drive").drive_minutes
    # Alone on Tuesday the day begins and ends in the south: the drive of Monday is saved.
    assert (alone.added_drive_minutes, alone.breaks) == (-there, ())
    assert options[date(0), at("9:20")].breaks


def test_options_are_what_moving_there_makes_of_the_whole_week(cast: Cast, week: WeekPlan) -> None:
    """Each moment against the week worked out anew with the session there: rules broken, and minutes driven."""
    content = content_read(week)
    loaded = edit_input(week, content)
    names = student_names(cast.teacher)
    before = rearranged(loaded, content, content.sessions, frozenset())
    tried = broke = 0
    for session in content.sessions:
        for option in session_options(cast.teacher, week, session.uid):
            start, end = minute(f"{option.start:%H:%M}"), minute(f"{option.end:%H:%M}")
            moved = dated(loaded, replace(session, date=option.date, start=start, end=end, space=option.space_id))
            touched = frozenset({session.date.isoformat(), option.date.isoformat()})
            after = rearranged(loaded, content, with_session(content, moved), touched)
            assert set(option.breaks) == set(names.all_told(broken_in(after) - broken_in(before)))
            assert option.added_drive_minutes == driven(after) - driven(before)
            tried, broke = tried + 1, broke + bool(option.breaks)
    assert tried > broke > 0


def broken_in(content: WeekContent) -> set[str]:
    """The rules that a week breaks, in sentences."""
    assert content.figures is not None
    return set(content.figures["broken"])


def driven(content: WeekContent) -> int:
    """Minutes at the wheel of a week."""
    return sum(one.drive_minutes or 0 for one in content.items)


def test_a_session_off_its_usual_time_is_told(cast: Cast, week: WeekPlan) -> None:
    published(cast, week)
    own = f"line-{cast.line.pk}"
    new = make_line(cast, "N1")
    following = make_week(
        cast,
        [(own, date(7), "9:20"), (own, date(9), "10:10"), (f"line-{new.pk}", date(8), "9:20")],
        monday=date(7),
    )
    sessions = [one for day in week_detail(cast.teacher, following).days for one in day.sessions]
    assert [(one.label, one.usual) for one in sessions] == [
        ("Ola Tarn S01", True),
        ("Ilsabet Quernmore-N1", None),
        ("Ola Tarn S01", False),
    ]


def test_comparing_two_versions(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    far = session_at(first, date(0), "13:15")
    draft = move(cast, first, far, date(1), "13:15")
    found = compare_weeks(cast.teacher, first, draft)
    driving = next(one for one in found.goals if one.goal == "driving")
    assert driving.one > driving.other == 0
    assert (len(found.moved), found.added, found.removed, found.same) == (1, (), (), 2)
    assert found.moved[0].startswith("Ilsabet Quernmore-F1 moved from Monday")


# ---- who may -------------------------------------------------------------------------------------------


EDITS = [
    lambda actor, week, uid: week_session_move(
        actor=actor, week=week, uid=uid, date=date(3), start=at("10:10"), expected_revision=1
    ),
    lambda actor, week, uid: week_session_pin(actor=actor, week=week, uid=uid, pinned=True, expected_revision=1),
    lambda actor, week, uid: week_session_remove(actor=actor, week=week, uid=uid, expected_revision=1),
    lambda actor, week, uid: week_edit_undo(actor=actor, week=week, expected_revision=1),
    lambda actor, week, uid: week_publish(actor=actor, week=week, expected_revision=1),
    lambda actor, week, uid: week_restore(actor=actor, week=week),
    lambda actor, week, uid: week_discard(actor=actor, week=week),
]


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("who", ["stranger", "mate", "office", "substitute"])
def test_nobody_else_changes_a_week(cast: Cast, week: WeekPlan, edit: Any, who: str) -> None:
    uid = session_at(week, date(0), "9:20").uid
    before = content_read(week)
    with pytest.raises(ApplicationError) as caught:
        edit(getattr(cast, who), week, uid)
    assert caught.value.status == 404
    week.refresh_from_db()
    assert (week.status, week.revision, content_read(week)) == ("draft", 1, before)


def test_who_sees_a_week(cast: Cast, week: WeekPlan) -> None:
    for who in (cast.teacher, cast.coordinator):
        assert week_get(who, week.pk) == week
    for who in (cast.stranger, cast.mate, cast.office, cast.substitute):
        with pytest.raises(ApplicationError) as caught:
            week_detail(who, week)
        assert caught.value.status == 404
    published(cast, week)
    Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=MONDAY, last_date=date(4)
    )
    for who in (cast.office, cast.substitute):
        assert week_get(who, week.pk) == week
    for who in (cast.stranger, cast.mate):
        with pytest.raises(ApplicationError):
            week_get(who, week.pk)


def names_in(value: object) -> list[str]:
    names = {"Ola", "Tarn S01", "Ilsabet", "Quernmore-F1"}
    return sorted(name for name in names if name in repr(value))


def test_an_office_sees_its_building_without_students(cast: Cast, week: WeekPlan) -> None:
    first = published(cast, week)
    week = published(cast, move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10"))
    detail = week_detail(cast.office, week)
    assert {one.building_code for day in detail.days for one in day.sessions} == {"NORTH"}
    assert all(one.attendees == () for day in detail.days for one in day.sessions)
    assert all(day.items == () for day in detail.days)
    assert (detail.unplaced, detail.goals, detail.changes, detail.notes) == ((), (), (), ())
    seen = [detail, week_versions(cast.office, cast.teacher, MONDAY)]
    assert names_in(seen) == []
    assert "S01" not in repr(seen)


def test_the_teacher_sees_names_and_the_figures_hold_none(cast: Cast, week: WeekPlan) -> None:
    detail = week_detail(cast.teacher, week)
    assert names_in(detail) == ["Ilsabet", "Ola", "Quernmore-F1", "Tarn S01"]
    first = published(cast, week)
    second = published(cast, move(cast, first, session_at(first, date(0), "9:20"), date(3), "10:10"))
    for row in (first, second):
        row.refresh_from_db()
        assert names_in([row.figures, row.changes, str(row)]) == []
    draft = move(cast, second, session_at(second, date(3), "10:10"), date(4), "10:10")
    revisions = [one.content for one in draft.revisions.all()]
    assert revisions
    audits = [json.dumps(one.changes) for one in AuditEntry.objects.all()]
    assert audits
    assert names_in([revisions, audits]) == []


def test_every_edit_is_audited(cast: Cast, week: WeekPlan) -> None:
    move(cast, week, session_at(week, date(0), "9:20"), date(3), "10:10")
    week.refresh_from_db()
    published(cast, week)
    actions = list(
        AuditEntry.objects.filter(model="schedule.weekplan").order_by("pk").values_list("action", flat=True)
    )
    assert actions == ["week_session_move", "week_publish"]
    assert {one.actor for one in AuditEntry.objects.all()} == {cast.teacher}


def test_the_detail_of_a_day(cast: Cast, week: WeekPlan) -> None:
    make_entry(cast, date(4), "closed")
    detail = week_detail(cast.teacher, week)
    monday, friday = detail.days[0], detail.days[4]
    assert [one.start_minute for one in monday.entries] == sorted(one.start_minute for one in monday.entries)
    assert (monday.contract_start_minute, monday.contract_end_minute) == (minute("8:00"), minute("15:00"))
    assert monday.drive_minutes > 0
    assert {one.reason for one in friday.buildings} == {"Wind day"}
    assert detail.drive_minutes == monday.drive_minutes
    assert [one.code for one in detail.places] == ["NORTH", "SOUTH"]
