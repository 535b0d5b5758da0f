"""Class hours: which routine a session has, in which minutes, and whom to ask before a part of it."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from caseload.care.models import Caution, CautionTag
from caseload.care.written import ASK_FIRST
from schedule.calendar.models import CalendarEntry
from schedule.class_hour.data import HourView
from schedule.class_hour.models import Routine, RoutineChoice
from schedule.class_hour.selectors.hours import hours_of_day, hours_shown
from schedule.class_hour.selectors.load import load_list
from schedule.class_hour.services import routine_choose, routine_copy, routine_put_away, routine_save
from schedule.day.selectors.sheet import day_sheet
from schedule.equipment.models import EquipmentStock, SpaceCautions
from schedule.equipment.services import space_cautions_save
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.weeks.models import PlannedSession
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.builders import SHORT_PERIODS, at, date, make_bells, make_line
from tests.schedule.class_hour.conftest import Lesson
from tests.schedule.log_builders import publish_session


def hour(lesson: Lesson, viewer: Person | None = None) -> HourView:
    """The lesson's own, as somebody sees it."""
    cast = lesson.cast
    (one,) = hours_shown(hours_of_day(viewer or cast.teacher, cast.teacher, lesson.day))
    return one


def clock(view: HourView) -> list[tuple[str, str, int]]:
    """Parts with their times and lengths."""
    return [(part.title, f"{part.start:%H:%M}", part.minutes) for part in view.parts]


def choose(lesson: Lesson, routine: Routine | None, **more: bool) -> None:
    """For the lesson's session."""
    cast = lesson.cast
    uid = lesson.session.uid
    routine_choose(actor=cast.teacher, teacher=cast.teacher, date=lesson.day, uid=uid, routine=routine, **more)


def test_a_class_has_its_routine_at_its_time(lesson: Lesson) -> None:
    """30 minutes from 8:30 on, and the equipment of each part."""
    view = hour(lesson)
    assert clock(view) == [
        ("Warm-up", "08:30", 5), ("Shadow tag", "08:35", 10), ("Stations", "08:45", 12), ("Cool-down", "08:57", 3),
    ]  # fmt: skip
    assert view.parts[1].equipment == ("8 Poly spots",)
    assert (view.parts[1].what, view.asked, view.is_shortened) == ("Two and two.", "", False)


def test_on_a_shortened_day_it_shrinks_and_the_sheet_shows_the_clock(lesson: Lesson) -> None:
    """The short day's first period ends at 8:50: of 20 minutes each part has its least; day sheet and API agree."""
    periods = (("1", "8:30", "8:50", "instruction", ""), *SHORT_PERIODS[1:])
    make_bells(lesson.cast.north, name="Short", kind="early_dismissal", periods=periods)
    CalendarEntry.objects.create(
        district=lesson.cast.district, building=lesson.cast.north, first_date=lesson.day, last_date=lesson.day,
        kind="early_dismissal",
    )  # fmt: skip
    view = hour(lesson)
    assert (view.minutes, view.planned_minutes) == (20, 30)
    assert [minutes for _, _, minutes in clock(view)] == [3, 6, 8, 3]
    (line,) = [one for one in day_sheet(lesson.cast.teacher, lesson.cast.teacher, lesson.day).lines if one.hour]
    assert line.hour == view
    (told,) = Api(lesson.cast.teacher).get(f"class-hours/{lesson.day}/")
    assert [part["minutes"] for part in told["parts"]] == [3, 6, 8, 3]


def test_a_school_that_opens_late_cuts_the_hour(lesson: Lesson) -> None:
    """Before its first bell nobody is there: 8:40 to 9:00 are left."""
    periods = (("1", "8:40", "9:10", "instruction", ""), *SHORT_PERIODS[2:])
    make_bells(lesson.cast.north, name="Late", kind="delayed_opening", periods=periods)
    CalendarEntry.objects.create(
        district=lesson.cast.district, first_date=lesson.day, last_date=lesson.day, kind="delayed_opening"
    )
    assert (hour(lesson).start, hour(lesson).end) == (dt.time(8, 40), dt.time(9, 0))


@pytest.mark.parametrize(
    ("values", "left", "minutes"),
    [
        ({"kind": "late", "start": at("8:20"), "minutes": 20}, ("8:40", "9:00"), [3, 6, 8, 3]),
        ({"kind": "away", "start": at("8:50")}, ("8:30", "8:50"), [3, 6, 8, 3]),
    ],
)
def test_whoever_is_late_gives_what_is_left(
    lesson: Lesson, values: dict[str, object], left: tuple[str, str], minutes: list[int]
) -> None:
    """20 minutes at the end or at the beginning: the routine fits them, by the clock; taken back, it is whole."""
    cast = lesson.cast
    whole = clock(hour(lesson))
    row = happening_say(actor=cast.teacher, values={"first_date": lesson.day, **values})
    view = hour(lesson)
    assert (view.start, view.end, view.planned_minutes) == (at(left[0]), at(left[1]), 30)
    assert [each for _, _, each in clock(view)] == minutes
    happening_take_back(actor=cast.teacher, row=row)
    assert clock(hour(lesson)) == whole


def test_a_routine_longer_than_the_period_says_so(lesson: Lesson) -> None:
    """Nothing is hidden: parts that never fall out run over, and the page says by how much."""
    lesson.routine.parts.update(when_short=2)
    lesson.session.end = at("8:45")
    lesson.session.save()
    view = hour(lesson)
    assert (view.over, view.out, view.minutes) == (5, (), 15)


def test_a_choice_for_one_session_and_back(lesson: Lesson) -> None:
    """Another routine, none, the usual again; other days don't follow. What was put away is no choice any more."""
    teacher = lesson.cast.teacher
    other = routine_copy(actor=teacher, row=lesson.routine, variant="Lower energy")
    choose(lesson, other)
    assert (hour(lesson).routine_id, hour(lesson).chosen) == (other.pk, True)
    choose(lesson, None)
    assert (hour(lesson).routine_id, hour(lesson).parts) == (None, ())
    choose(lesson, None, usual=True)
    assert (hour(lesson).routine_id, hour(lesson).chosen) == (lesson.routine.pk, False)
    choose(lesson, other)
    routine_put_away(actor=teacher, row=other)
    assert hour(lesson).routine_id == lesson.routine.pk
    assert RoutineChoice.objects.count() == 1


def test_a_choice_is_for_a_session_and_a_routine_that_one_sees(lesson: Lesson) -> None:
    """A mate has neither."""
    cast, uid = lesson.cast, lesson.session.uid
    with pytest.raises(ApplicationError, match="nothing here"):
        routine_choose(actor=cast.mate, teacher=cast.teacher, date=lesson.day, uid=uid, routine=lesson.routine)
    own = routine_save(actor=cast.mate, row=Routine(), values={"name": "Mine"})
    with pytest.raises(ValidationError, match="from the list"):
        choose(lesson, own)


def test_a_group_has_its_own_routine_before_its_class(lesson: Lesson) -> None:
    """Exactly these students."""
    teacher = lesson.cast.teacher
    own = routine_save(actor=teacher, row=Routine(), values={"name": "Pair", "students": [lesson.cast.student]})
    assert hour(lesson).routine_id == own.pk


def test_a_substitute_sees_the_routine_while_the_day_is_covered(lesson: Lesson) -> None:
    """And nothing before; an office never."""
    cast = lesson.cast
    assert hours_of_day(cast.substitute, cast.teacher, lesson.day) == ()
    today = date_there()
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute,
        first_date=min(today, lesson.day), last_date=max(today, lesson.day),
    )  # fmt: skip
    assert hour(lesson, cast.substitute).routine_id == lesson.routine.pk
    assert hours_of_day(cast.office, cast.teacher, lesson.day) == ()


def met(lesson: Lesson, tag: str = "exertion") -> CautionTag:
    """The student has a caution with a tag that the game has, too."""
    row, _ = CautionTag.objects.get_or_create(district=lesson.cast.district, name=tag)
    caution = Caution.objects.create(
        student=lesson.cast.student, kind="medical", text="Asthma.", decides="The school nurse"
    )
    caution.tags.add(row)
    return row


def test_a_caution_that_is_met_says_whom_to_ask(lesson: Lesson) -> None:
    """At the part, with the name; the sentence stands once; nothing is ever called safe."""
    lesson.tag.caution_tags.add(met(lesson))
    view = hour(lesson)
    assert [part.ask for part in view.parts] == [(), ("Exertion, Ola Tarn S01: The school nurse decides.",), (), ()]
    assert view.asked == ASK_FIRST


def test_a_space_that_a_caution_is_about_asks_before_going_there(lesson: Lesson) -> None:
    """Water in the pool: the whole session says so, with or without a routine."""
    cast = lesson.cast
    row = SpaceCautions(space=cast.gym)
    space_cautions_save(actor=cast.teacher, row=row, values={"caution_tags": [met(lesson, "water")]})
    assert hour(lesson).place_ask == ()
    PlannedSession.objects.filter(pk=lesson.session.pk).update(space=cast.gym)
    choose(lesson, None)
    view = hour(lesson)
    assert view.place_ask == ("Water, Ola Tarn S01: The school nurse decides.",)
    assert view.asked == ASK_FIRST


def test_a_caution_with_another_tag_is_not_met(lesson: Lesson) -> None:
    """It stands with the student's name, and the whole page still says whom to ask."""
    met(lesson)
    assert not any(part.ask for part in hour(lesson).parts)


def test_parts_far_apart_and_a_student_who_tends_to_leave(lesson: Lesson) -> None:
    """By the district's tag of that name."""
    lesson.routine.parts.filter(kind="stations").update(is_far_apart=True)
    assert not any("leave the room" in text for text in hour(lesson).advice)
    met(lesson, "leaving the room")
    assert any("leave the room" in text for text in hour(lesson).advice)


def test_queries_dont_grow_with_the_sessions(lesson: Lesson) -> None:
    """One session or five, the same number."""
    cast = lesson.cast
    lesson.tag.caution_tags.add(met(lesson))

    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            hours_shown(hours_of_day(cast.teacher, cast.teacher, lesson.day))
        return len(found)

    before = asked()
    for start, end in (("9:20", "9:50"), ("10:10", "10:40"), ("11:35", "12:05"), ("12:25", "12:55")):
        session = publish_session(lesson.day, [cast.line], start, end)
        session.school_class = cast.room4
        session.save()
    assert asked() == before


def test_the_load_list_of_the_day(lesson: Lesson) -> None:
    """Eight spots ride along; five of them broken, three are missing; a session without a routine is counted."""
    cast = lesson.cast
    load = load_list(cast.teacher, cast.teacher, lesson.day)
    assert [(one.count, one.name) for one in load.car] == [(8, "Poly spots")]
    assert [(one.building_name, len(one.carry_in)) for one in load.stops] == [(cast.north.name, 1)]
    EquipmentStock.objects.update(broken=7)
    publish_session(lesson.day, [cast.line], "9:20", "9:50")
    load = load_list(cast.teacher, cast.teacher, lesson.day)
    assert [one.count for one in load.stops[0].missing] == [3]
    assert (load.sessions, load.without) == (2, 1)
    told = Api(cast.teacher).get(f"load-lists/{lesson.day}/")
    assert told["stops"][0]["missing"][0]["count"] == 3
    assert load_list(cast.teacher, cast.teacher, date(1)).sessions == 0


def test_what_is_wanted_in_two_places_at_once_is_said(lesson: Lesson, cast: Cast) -> None:
    """Two teachers in one school at one time, and too few spots for both."""
    EquipmentStock.objects.update(building=cast.north, carried_by=None, count=10)
    copy = routine_copy(actor=cast.coordinator, row=lesson.routine)
    Routine.objects.filter(pk=copy.pk).update(teacher=cast.mate, school_class=cast.room4)
    line = make_line(cast, "S09", teacher=cast.mate)
    session = publish_session(lesson.day, [line], "8:35", "9:05")
    session.school_class = cast.room4
    session.save()
    load = load_list(cast.teacher, cast.teacher, lesson.day)
    (text,) = load.clashes
    assert text.startswith("Poly spots of North Hollow School: 16 are wanted at 8:35 by Teacher Vey and Mate Vey")
    assert "10 can be used" in text
    assert "kept nowhere else" in text
    EquipmentStock.objects.create(equipment=lesson.spots, building=cast.south, count=6)
    EquipmentStock.objects.create(equipment=lesson.spots, carried_by=cast.mate, count=0)
    (text,) = load_list(cast.teacher, cast.teacher, lesson.day).clashes
    assert text.endswith(f"Also kept: 6 at {cast.south}.")
    EquipmentStock.objects.filter(building=cast.north).update(count=16)
    assert load_list(cast.teacher, cast.teacher, lesson.day).clashes == ()


def test_a_draft_says_what_it_would_want_while_others_want_it(lesson: Lesson, cast: Cast) -> None:
    """By the week's page and the API, as the load list will say it; moved to another time, it says nothing."""
    EquipmentStock.objects.update(building=cast.north, carried_by=None, count=10)
    copy = routine_copy(actor=cast.coordinator, row=lesson.routine)
    Routine.objects.filter(pk=copy.pk).update(teacher=cast.mate, school_class=cast.room4)
    session = publish_session(lesson.day, [make_line(cast, "S09", teacher=cast.mate)], "8:35", "9:05")
    session.school_class = cast.room4
    session.save()
    week = lesson.session.week
    # As a draft it isn't in force: the day's load list doesn't know it.
    type(week).objects.filter(pk=week.pk).update(status="draft", version=None, published_at=None)
    assert load_list(cast.teacher, cast.teacher, lesson.day).clashes == ()
    (found,) = Api(cast.teacher).get(f"weeks/{week.pk}/equipment/")
    assert found["date"] == lesson.day.isoformat()
    assert "16 are wanted at 8:35" in found["clashes"][0]
    client = Client()
    client.force_login(cast.teacher)
    assert "16 are wanted at 8:35" in client.get(f"/week/{week.pk}/equipment/").text
    assert f"/week/{week.pk}/equipment/" in client.get(f"/week/{week.pk}/").text
    PlannedSession.objects.filter(pk=lesson.session.pk).update(start=dt.time(10, 10), end=dt.time(10, 40))
    assert Api(cast.teacher).get(f"weeks/{week.pk}/equipment/") == []
    assert "Nothing is wanted in two places" in client.get(f"/week/{week.pk}/equipment/").text


def test_by_the_api_a_session_gets_another_routine(lesson: Lesson) -> None:
    """None, then the usual again; a session that isn't there is 404."""
    api, path = Api(lesson.cast.teacher), f"class-hours/{lesson.day}/"
    uid = str(lesson.session.uid)
    assert api.post(path, expect=200, uid=uid, routine=None)[0]["routine_id"] is None
    assert api.post(path, expect=200, uid=uid, usual=True)[0]["routine_id"] == lesson.routine.pk
    api.post(path, expect=404, uid="00000000-0000-4000-8000-000000000000", routine=None)
    api.post(path, expect=400, uid=uid, routine=10**6)
