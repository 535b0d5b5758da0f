"""Saving bells, days, times, the calendar and the teacher's rules."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.plans.models import StudentHold
from schedule.calendar.models import (
    BellRule,
    BellSchedule,
    CalendarEntry,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
)
from schedule.calendar.services import bells, records
from tests.conftest import Cast
from travel.places.models import Space


def period(name: str, start: str, end: str, **more: object) -> dict[str, object]:
    """Values of one period."""
    return {"name": name, "start": dt.time.fromisoformat(start), "end": dt.time.fromisoformat(end), **more}


def save_bells(cast: Cast, *periods: dict[str, object], **values: object) -> BellSchedule:
    """Save a schedule of the north building."""
    return bells.bell_schedule_save(
        actor=cast.teacher,
        row=BellSchedule(building=cast.north),
        values={"name": "Regular", "kind": "regular", "periods": periods, **values},
    )


def test_bells_are_saved_with_their_periods(cast: Cast) -> None:
    """Twice in a row: the second time replaces the periods of the first."""
    row = save_bells(cast, period("P1", "08:05", "08:45"), period("P2", "08:50", "09:30"))
    bells.bell_schedule_save(
        actor=cast.teacher,
        row=row,
        values={"periods": [period("P1", "08:10", "08:45"), period("Lunch 3-5", "11:00", "11:30", kind="lunch")]},
    )
    assert [(p.name, p.start) for p in row.periods.all()] == [("P1", dt.time(8, 10)), ("Lunch 3-5", dt.time(11))]
    bells.bell_schedule_save(actor=cast.teacher, row=row, values={"passing_minutes": 4})
    assert row.periods.count() == 2


@pytest.mark.parametrize(
    ("periods", "key", "part"),
    [
        ([period("P1", "08:05", "08:45"), period("P2", "08:40", "09:30")], "periods.1", "overlaps"),
        ([period("P1", "08:45", "08:05")], "periods.0", "ends at 08:05"),
        ([period("P1", "08:05", "08:45"), period("p1", "09:05", "09:45")], "periods", "more than one period"),
        ([period("", "08:05", "08:45")], "periods.0.name", "blank"),
        ([period("P1", "08:05", "08:45", grades="13")], "periods.0.grades", "a grade"),
        ([], "periods", "no periods"),
    ],
)
def test_what_is_wrong_with_a_period_stands_at_its_place(
    cast: Cast, periods: list[dict[str, object]], key: str, part: str
) -> None:
    """And nothing of the schedule is saved."""
    with pytest.raises(ValidationError) as caught:
        save_bells(cast, *periods)
    assert list(caught.value.message_dict) == [key]
    assert part in caught.value.message_dict[key][0]
    assert not BellSchedule.objects.exists()


def test_a_wrong_period_leaves_the_saved_ones_alone(cast: Cast) -> None:
    """Nothing saved is lost."""
    row = save_bells(cast, period("P1", "08:05", "08:45"))
    with pytest.raises(ValidationError):
        bells.bell_schedule_save(actor=cast.teacher, row=row, values={"periods": [period("P1", "09:00", "08:00")]})
    assert [p.start for p in row.periods.all()] == [dt.time(8, 5)]


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"kind": "cycle", "length": 6, "labels": "A,B,C"}, "labels"),
        ({"kind": "cycle", "length": 6, "anchor_label": "Day 7"}, "anchor_label"),
        ({"kind": "cycle"}, "length"),
        ({"kind": "cycle", "length": 11}, "length"),
        ({"kind": "ab_weeks", "anchor_date": None}, "anchor_date"),
    ],
)
def test_a_rotation_that_cannot_be_counted(cast: Cast, values: dict[str, object], field: str) -> None:
    """Labels that don't fit, a known day with a label that isn't one, no length, no known day."""
    with pytest.raises(ValidationError) as caught:
        records.rotation_save(
            actor=cast.teacher,
            row=DayRotation(building=cast.north),
            values={"anchor_date": dt.date(2026, 9, 8), **values},
        )
    assert field in caught.value.message_dict


def test_days_of_the_rotation_can_be_named(cast: Cast) -> None:
    """`Day 3`, `3` and weekdays are days of a building on a cycle; `Day 7` of six isn't."""
    records.rotation_save(
        actor=cast.teacher,
        row=DayRotation(building=cast.north),
        values={"kind": "cycle", "length": 6, "anchor_date": dt.date(2026, 9, 8)},
    )
    row = save_bells(cast, period("P1", "08:05", "08:45"))
    for day in ("Day 3", "Wed", "first Wednesday", "Day 3 Fri"):
        records.bell_rule_save(
            actor=cast.teacher, row=BellRule(building=cast.north), values={"day": day, "schedule": row}
        )
    for again in ("3", "Wednesday", "Mon-Thu", "1st Wed", "Fri, 3 Friday"):
        with pytest.raises(ValidationError) as twice:
            records.bell_rule_save(
                actor=cast.teacher, row=BellRule(building=cast.north), values={"day": again, "schedule": row}
            )
        assert "already" in twice.value.message_dict["day"][0]
    with pytest.raises(ValidationError) as caught:
        records.space_free_time_save(
            actor=cast.teacher, row=SpaceFreeTime(space=cast.gym), values={"days": "Mon, Day 7", "period": "P1"}
        )
    assert "Day 6" in caught.value.message_dict["days"][0]
    with pytest.raises(ValidationError) as other:
        records.bell_rule_save(
            actor=cast.teacher, row=BellRule(building=cast.south), values={"day": "Mon", "schedule": row}
        )
    assert "schedule" in other.value.message_dict


def test_a_class_meets_in_its_own_building(cast: Cast) -> None:
    """A space elsewhere is refused."""
    pool = Space.objects.create(building=cast.south, name="Pool", kind="pool")
    with pytest.raises(ValidationError) as caught:
        records.class_meeting_save(
            actor=cast.teacher,
            row=ClassMeeting(school_class=cast.room4),
            values={"days": "Tue", "start": dt.time(9), "end": dt.time(9, 40), "space": pool},
        )
    assert list(caught.value.message_dict) == ["space"]


def test_years_and_marking_periods_do_not_overlap(cast: Cast) -> None:
    """Nor does a marking period leave its year."""
    year = records.school_year_save(
        actor=cast.coordinator,
        row=SchoolYear(),
        values={"name": "2026-27", "first_day": dt.date(2026, 9, 3), "last_day": dt.date(2027, 6, 24)},
    )
    with pytest.raises(ValidationError) as again:
        records.school_year_save(
            actor=cast.coordinator,
            row=SchoolYear(),
            values={"name": "2027", "first_day": dt.date(2027, 6, 1), "last_day": dt.date(2028, 6, 1)},
        )
    assert "2026-27" in again.value.message_dict["first_day"][0]
    first = {"name": "Q1", "first_day": dt.date(2026, 9, 3), "last_day": dt.date(2026, 11, 6)}
    records.marking_period_save(actor=cast.coordinator, row=MarkingPeriod(school_year=year), values=first)
    with pytest.raises(ValidationError) as overlap:
        records.marking_period_save(
            actor=cast.coordinator,
            row=MarkingPeriod(school_year=year),
            values={"name": "Q2", "first_day": dt.date(2026, 11, 6), "last_day": dt.date(2027, 1, 22)},
        )
    assert list(overlap.value.message_dict) == ["first_day"]
    with pytest.raises(ValidationError) as shrink:
        records.school_year_save(actor=cast.coordinator, row=year, values={"last_day": dt.date(2026, 10, 1)})
    assert "Q1" in shrink.value.message_dict["last_day"][0]


def test_one_day_entries_need_no_last_date(cast: Cast) -> None:
    """And a range that runs backwards is refused at its end."""
    row = records.calendar_entry_save(
        actor=cast.teacher,
        row=CalendarEntry(),
        values={"first_date": dt.date(2026, 11, 26), "last_date": None, "kind": "closed", "title": "Recess"},
    )
    assert row.last_date == row.first_date
    with pytest.raises(ValidationError) as caught:
        records.calendar_entry_save(actor=cast.teacher, row=row, values={"last_date": dt.date(2026, 11, 20)})
    assert list(caught.value.message_dict) == ["last_date"]


type Save = Callable[[Cast, dict[str, object]], object]
OWN_ROWS: dict[str, tuple[Save, dict[str, object]]] = {
    "rules": (
        lambda cast, values: records.teacher_rules_save(actor=cast.mate, row=TeacherRules(), values=values),
        {"lunch_minutes": 30},
    ),
    "contract day": (
        lambda cast, values: records.contract_day_save(actor=cast.mate, row=ContractDay(), values=values),
        {"weekday": 0, "start": dt.time(7, 30), "end": dt.time(15)},
    ),
    "meeting": (
        lambda cast, values: records.meeting_save(actor=cast.mate, row=Meeting(), values=values),
        {"title": "Staff", "weekday": 2, "start": dt.time(15), "end": dt.time(16)},
    ),
}


@pytest.mark.parametrize("name", OWN_ROWS)
def test_a_teachers_rows_are_the_teachers_own(cast: Cast, name: str) -> None:
    """A team mate's can't be written in another's name."""
    save, values = OWN_ROWS[name]
    saved = save(cast, values)
    assert getattr(saved, "teacher", None) == cast.mate
    with pytest.raises(ApplicationError) as caught:
        save(cast, {**values, "teacher": cast.teacher})
    assert caught.value.status == 404


def test_a_lunch_window_must_hold_the_lunch(cast: Cast) -> None:
    """And a missing time is said, not crashed on."""
    for values, field in (
        ({"lunch_earliest": dt.time(12), "lunch_latest_end": dt.time(12, 20)}, "lunch_latest_end"),
        ({"lunch_earliest": None}, "lunch_earliest"),
    ):
        with pytest.raises(ValidationError) as caught:
            records.teacher_rules_save(actor=cast.teacher, row=TeacherRules(), values=values)
        assert list(caught.value.message_dict) == [field]


def named_everywhere(cast: Cast) -> tuple[SpaceFreeTime, ClassMeeting, StudentHold]:
    """A free time, a class and a hold that name P2, one of them in another writing."""
    return (
        SpaceFreeTime.objects.create(space=cast.gym, days="Mon", period="P2"),
        ClassMeeting.objects.create(school_class=cast.room4, days="Tue", period="P2"),
        StudentHold.objects.create(student=cast.student, period="p2"),
    )


def test_a_renamed_period_is_renamed_wherever_it_is_named(cast: Cast) -> None:
    """Also in the building's other bells: a hold would mean no time at all on days with those."""
    row = save_bells(cast, period("P1", "08:05", "08:45"), period("P2", "08:50", "09:30"))
    early = save_bells(cast, period("P2", "08:30", "09:00"), name="Early", kind="early_dismissal")
    rows = named_everywhere(cast)
    changed = [period("P1", "08:05", "08:45"), period("Block 2", "08:50", "09:30")]
    bells.bell_schedule_save(actor=cast.teacher, row=row, values={"periods": changed})
    for one in rows:
        one.refresh_from_db()
    assert [one.period for one in rows] == ["Block 2"] * 3
    assert early.periods.get().name == "Block 2"
    assert AuditEntry.objects.filter(action="period_rename").count() == 3


def test_a_period_that_is_named_is_not_taken_out_of_the_last_bells(cast: Cast) -> None:
    """The sentence lists what names it, students as the reader may know them; nothing is changed."""
    row = save_bells(cast, period("P1", "08:05", "08:45"), period("P2", "08:50", "09:30"))
    named_everywhere(cast)
    with pytest.raises(ValidationError) as caught:
        bells.bell_schedule_save(actor=cast.teacher, row=row, values={"periods": [period("P1", "08:05", "08:45")]})
    [text] = caught.value.message_dict["periods"]
    assert text == (
        "“P2” is still named by a free time of Gym, the physical education of Room 4 and a time when Ola Tarn "
        "S01 can't be taken. Keep the period, or give those another period or clock times first."
    )
    assert row.periods.count() == 2
    with pytest.raises(ApplicationError, match="“P2” is still named by"):
        bells.bell_schedule_delete(actor=cast.teacher, row=row)


def test_a_period_may_go_while_other_bells_have_it(cast: Cast) -> None:
    """An early dismissal has fewer periods than a regular day."""
    save_bells(cast, period("P1", "08:05", "08:45"), period("P2", "08:50", "09:30"))
    early = save_bells(
        cast, period("P1", "08:05", "08:25"), period("P2", "08:30", "09:00"), name="Early", kind="early_dismissal"
    )
    _, _, hold = named_everywhere(cast)
    bells.bell_schedule_save(actor=cast.teacher, row=early, values={"periods": [period("P1", "08:05", "08:25")]})
    hold.refresh_from_db()
    assert hold.period == "p2"
    bells.bell_schedule_delete(actor=cast.teacher, row=early)


def test_a_name_that_other_bells_have_already_is_refused(cast: Cast) -> None:
    """P2 can't become P1 where other bells have both."""
    row = save_bells(cast, period("P2", "08:50", "09:30"))
    save_bells(
        cast, period("P1", "08:05", "08:25"), period("P2", "08:30", "09:00"), name="E", kind="early_dismissal"
    )
    named_everywhere(cast)
    with pytest.raises(ValidationError, match="can't become “P1”: the bells E have both"):
        bells.bell_schedule_save(actor=cast.teacher, row=row, values={"periods": [period("P1", "08:50", "09:30")]})
