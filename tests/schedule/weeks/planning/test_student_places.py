"""A student is busy wherever another teacher's published week holds them: planning, edits, publishing, make-ups."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.make_ups.services.booking import make_up_book
from schedule.planner.asking.favor_kinds import favors_of
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.others.elsewhere import Elsewhere
from schedule.weeks.selectors.weeks import session_options
from schedule.weeks.services.weeks import week_restore, week_session_move
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_line, make_week, minute, minutes_on
from tests.schedule.log_builders import log_session, publish_session
from tests.schedule.runs import plan_now
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish

WITH_MATE = "Ola Tarn S01 is with Mate Vey at North Hollow School 8:30 to 9:00"


@pytest.fixture
def mates_line(cast: Cast) -> ServiceLine:
    """The mate's line for S01, whom the teacher serves too."""
    return make_two_teachers(cast)


def mates_week(cast: Cast, line: ServiceLine, clock: str = "8:30") -> WeekPlan:
    """A draft of the mate's: the line on Monday and Wednesday."""
    return make_week(
        cast, [(f"line-{line.pk}", date(0), clock), (f"line-{line.pk}", date(2), clock)], teacher=cast.mate
    )


def own_week(cast: Cast, clock: str = "8:30") -> WeekPlan:
    """A draft of the teacher's for the same student, on the same days."""
    unit = f"line-{cast.line.pk}"
    return make_week(cast, [(unit, date(0), clock), (unit, date(2), clock)])


def shares_a_minute(start: int, minutes: int, span: tuple[str, str]) -> bool:
    """Whether a session that starts then meets a span of clock times."""
    return start < minute(span[1]) and minute(span[0]) < start + minutes


# ---- planning --------------------------------------------------------------------------------------------


def test_planning_takes_nobody_out_of_another_teachers_session(cast: Cast, mates_line: ServiceLine) -> None:
    """Only what is published counts; the only difference are the moments that meet the session."""
    unit = f"line-{cast.line.pk}"
    draft = mates_week(cast, mates_line)
    before = minutes_on(load_week(cast.teacher, MONDAY), unit, date(0))
    assert minute("8:30") in before, "a draft takes nobody's time"
    publish(draft)
    loaded = load_week(cast.teacher, MONDAY)
    after = minutes_on(loaded, unit, date(0))
    assert before - after == {one for one in before if shares_a_minute(one, 30, ("8:30", "9:00"))}
    names = student_names(cast.teacher)
    barred = {(one.at, one.reason_code, names.told(one.text), one.ask) for one in loaded.problem.unit(unit).barred}  # type: ignore[union-attr]
    assert (minute("8:30"), "student_elsewhere", WITH_MATE, "Mate Vey") in barred
    ask = next(
        one for one in favors_of(loaded.problem) if one.code == "student_elsewhere" and one.day == str(MONDAY)
    )
    assert (
        names.told(ask.what) == f"If Mate Vey held that session at another time than on Monday (now: {WITH_MATE})"
    )
    run = plan_now(cast.teacher, MONDAY, date(4), seconds=2)
    held = PlannedSession.objects.filter(week__plan_run=run, date__in=[date(0), date(2)])
    assert not [one for one in held if shares_a_minute(minute(f"{one.start:%H:%M}"), 30, ("8:30", "9:00"))]


def test_a_class_waits_for_a_student_who_is_elsewhere(cast: Cast, mates_line: ServiceLine) -> None:
    cast.student.home_class = cast.room4
    cast.student.save()
    cast.line.setting = ServiceLine.Setting.OWN_CLASS
    cast.line.save()
    other = make_line(
        cast, "C2", home_class=cast.room4, setting=ServiceLine.Setting.OWN_CLASS, times=2, statement="2 x 30"
    )
    publish(mates_week(cast, mates_line))
    loaded = load_week(cast.teacher, MONDAY)
    unit = loaded.units.unit_of_line()[other.pk]
    assert loaded.units.unit_of_line()[cast.line.pk] == unit
    assert minute("8:30") not in minutes_on(loaded, unit, date(0))
    assert minute("9:20") in minutes_on(loaded, unit, date(0))


def test_a_consultation_takes_no_time_of_the_student(cast: Cast, mates_line: ServiceLine) -> None:
    """Neither another's bars a session, nor does a session bar one's own."""
    mates_line.service_type = ServiceLine.Type.CONSULTATION
    mates_line.save()
    publish(mates_week(cast, mates_line))
    assert minute("8:30") in minutes_on(load_week(cast.teacher, MONDAY), f"line-{cast.line.pk}", date(0))
    publish(own_week(cast))
    assert minute("8:30") in minutes_on(load_week(cast.mate, MONDAY), f"line-{mates_line.pk}", date(0))


# ---- edits and publishing --------------------------------------------------------------------------------


def test_an_edit_into_anothers_session_is_a_broken_rule(cast: Cast, mates_line: ServiceLine) -> None:
    """Also where the room is taken by that very session, so that two rules stand against it."""
    mates_line.allowed_spaces.set([cast.gym])
    publish(mates_week(cast, mates_line))
    week = own_week(cast, "9:20")
    [monday, _] = PlannedSession.objects.filter(week=week)
    draft = week_session_move(
        actor=cast.teacher,
        week=week,
        uid=monday.uid,
        date=date(0),
        start=at("8:30"),
        expected_revision=week.revision,
    )
    assert student_names(cast.teacher).all_told(draft.figures["broken"]) == (
        f"Ola Tarn S01, Monday 8:30 to 9:00: {WITH_MATE} (ask Mate Vey).",
    )


def test_the_places_of_a_session_warn_of_it(cast: Cast, mates_line: ServiceLine) -> None:
    publish(mates_week(cast, mates_line))
    week = own_week(cast, "9:20")
    options = session_options(cast.teacher, week, PlannedSession.objects.filter(week=week)[0].uid)
    [there] = [one for one in options if (one.date, one.start) == (date(0), at("8:30"))]
    assert there.breaks == (f"Ola Tarn S01, Monday 8:30 to 9:00: {WITH_MATE} (ask Mate Vey).",)


def refusal(week: WeekPlan) -> str:
    """What the teacher is told who publishes it."""
    with pytest.raises(ApplicationError) as caught:
        publish(week)
    assert caught.value.code == "student_in_two_places"
    week.refresh_from_db()
    assert week.status == "draft"
    return caught.value.message


def test_the_second_to_publish_is_told_who_where_when_and_with_whom(cast: Cast, mates_line: ServiceLine) -> None:
    mine = own_week(cast)
    publish(mates_week(cast, mates_line))
    told = refusal(mine)
    for sentence in (
        "Ola Tarn S01 is with Mate Vey at North Hollow School 8:30 to 9:00 on Monday, September 14, 2026",
        "Ola Tarn S01 is with Mate Vey at North Hollow School 8:30 to 9:00 on Wednesday, September 16, 2026",
        "Plan the week again around it, ask Mate Vey to move theirs, or publish without these 2 sessions.",
    ):
        assert sentence in told


def test_a_student_out_of_sight_is_not_named(cast: Cast, mates_line: ServiceLine) -> None:
    """The line and the student have gone to the mate since the draft was made."""
    mine = own_week(cast)
    publish(mates_week(cast, mates_line))
    ServiceLine.objects.filter(pk=cast.line.pk).update(provider=cast.mate)
    cast.student.caseload_teacher = cast.mate
    cast.student.save()
    told = refusal(mine)
    assert "A student of yours is with Mate Vey at North Hollow School 8:30 to 9:00 on Monday" in told
    assert "Tarn" not in told
    assert "S01" not in told


def test_the_api_refuses_it_in_the_same_words(cast: Cast, mates_line: ServiceLine) -> None:
    mine = own_week(cast)
    publish(mates_week(cast, mates_line))
    answer = Api(cast.teacher).post(f"weeks/{mine.pk}/publish/", expect=409, expected_revision=mine.revision)
    assert (answer["code"], answer["message"]) == ("student_in_two_places", refusal(mine))


def test_touching_sessions_are_no_clash() -> None:
    """From 8:30 to 9:00 with the one, from 9:00 with the other; nor is the same clock on another day."""
    held = Elsewhere(date(0), (510, 540), "Mate Vey", "North Hollow School")
    meets = {
        span: held.meets(date(0), span) for span in ((480, 510), (540, 570), (539, 569), (500, 511), (500, 550))
    }
    assert meets == {(480, 510): False, (540, 570): False, (539, 569): True, (500, 511): True, (500, 550): True}
    assert not held.meets(date(1), (510, 540))


def test_a_version_that_clashes_now_is_not_brought_back(cast: Cast, mates_line: ServiceLine) -> None:
    """It was in force once, but its time is the mate's by now; and the week in force stays."""
    publish(own_week(cast))
    later = publish(own_week(cast, "9:20"))
    publish(mates_week(cast, mates_line))
    with pytest.raises(ApplicationError) as caught:
        week_restore(actor=cast.teacher, week=later)
    assert caught.value.code == "student_in_two_places"
    assert WeekPlan.objects.get(teacher=cast.teacher, monday=MONDAY, status="published").pk == later.pk


# ---- make-ups --------------------------------------------------------------------------------------------


def test_a_make_up_is_not_offered_nor_booked_in_anothers_session(cast: Cast, mates_line: ServiceLine) -> None:
    """Nor does another teacher plan over one that is booked."""
    sunday = date(6)
    [missed] = [publish_session(date(0), [cast.line], "8:30", "9:00")]
    log_session(cast.teacher, missed, {cast.line.pk: Outcome(reason="assembly")})
    publish(make_week(cast, [(f"line-{cast.line.pk}", date(7), "13:15")], monday=date(7)))
    unit = f"line-{mates_line.pk}"
    publish(make_week(cast, [(unit, date(8), "8:30"), (unit, date(10), "8:30")], monday=date(7), teacher=cast.mate))
    slots = make_up_slots(cast.teacher, cast.line, sunday, SlotChoice(until=date(13))).slots
    tuesday = {one.start for one in slots if one.date == date(8)}
    assert minute("9:20") in tuesday
    assert not [one for one in tuesday if shares_a_minute(one, 30, ("8:30", "9:00"))]
    book = {"actor": cast.teacher, "line": cast.line, "date": date(8), "minutes": 30, "today": sunday}
    with pytest.raises(ApplicationError) as caught:
        make_up_book(start=at("8:30"), **book)  # type: ignore[arg-type]
    assert caught.value.code == "slot_taken"
    make_up_book(start=at("9:20"), **book)  # type: ignore[arg-type]
    moments = minutes_on(load_week(cast.mate, date(7)), unit, date(8))
    assert minute("9:20") not in moments
    assert dt.time(8, 30) in {one.start for one in PlannedSession.objects.filter(week__teacher=cast.mate)}
