"""Which goals a part of a routine serves: chosen, shown, offered while it runs; whose are seen by whom."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from accounts.models import Substitution
from caseload.plans.models import Student
from caseload.progress.models import StudentGoal
from caseload.progress.services import goal_end, goal_save
from schedule.class_hour import services
from schedule.class_hour.models import RoutinePart
from schedule.class_hour.selectors.hours import hours_of_day, hours_shown
from schedule.stations.models import Station, StationGoal
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.class_hour.conftest import Lesson
from tests.schedule.class_hour.test_class_hour_pages import signed_in

TEXT = "Will strike a ball off a tee in 4 of 5 trials."


def goal_of(lesson: Lesson, student: Student, text: str = TEXT) -> StudentGoal:
    """A goal that holds on the lesson's day."""
    values = {
        "text": text,
        "start": lesson.day - dt.timedelta(days=30),
        "end": lesson.day + dt.timedelta(days=600),
        "baseline": Decimal(1),
    }
    return goal_save(actor=lesson.cast.coordinator, row=StudentGoal(student=student), values=values)


@pytest.fixture
def goal(lesson: Lesson) -> StudentGoal:
    """Of the student in the lesson."""
    return goal_of(lesson, lesson.cast.student)


def serve(lesson: Lesson, goals: list[StudentGoal], at: int = 2) -> RoutinePart:
    """Let a part of the lesson serve goals."""
    return services.part_save(actor=lesson.cast.teacher, row=lesson.parts()[at], values={"goals": goals})


def test_the_hour_says_which_goals_a_part_serves(lesson: Lesson, goal: StudentGoal) -> None:
    """Of the students in the session, on days on which the goal holds."""
    serve(lesson, [goal])
    cast = lesson.cast
    view = hours_shown(hours_of_day(cast.teacher, cast.teacher, lesson.day))[0]
    assert [[one.text for one in part.goals] for part in view.parts] == [[], [], [TEXT], []]
    assert view.parts[2].goals[0].student_id == cast.student.pk
    goal_end(actor=cast.teacher, row=goal, values={"ended_on": lesson.day - dt.timedelta(days=1)})
    view = hours_shown(hours_of_day(cast.teacher, cast.teacher, lesson.day))[0]
    assert not any(part.goals for part in view.parts)


def test_pages_show_them_and_the_form_offers_the_class(lesson: Lesson, goal: StudentGoal) -> None:
    """Chosen by the form, shown on the routine, on the hour and in what the running view's script takes."""
    cast, part = lesson.cast, lesson.parts()[2]
    Student.objects.filter(pk=cast.student.pk).update(home_class=cast.room4)
    client = signed_in(cast.teacher)
    address = reverse("part_change", args=[part.pk])
    assert TEXT in client.get(address).text
    sent = {"kind": "stations", "minutes": 12, "least_minutes": 8, "when_short": 1, "goals": [goal.pk]}
    assert client.post(address, sent).status_code == 302
    assert list(part.goals.all()) == [goal]
    assert TEXT in client.get(reverse("routine_detail", args=[lesson.routine.pk])).text
    hour = reverse("class_hour", args=[lesson.day, lesson.session.uid])
    assert TEXT in client.get(hour).text
    run = client.get(reverse("class_hour_run", args=[lesson.day, lesson.session.uid]))
    assert run.context["run"]["parts"][2]["goals"][0]["goal_id"] == goal.pk
    assert client.post(address, {**sent, "goals": []}).status_code == 302
    assert not part.goals.exists()


def test_who_reads_the_shelf_sees_no_goals_of_others(lesson: Lesson, goal: StudentGoal) -> None:
    """Its teacher does; a mate sees the routine without them, and copies it without them."""
    cast, part = lesson.cast, serve(lesson, [goal])
    services.routine_save(actor=cast.teacher, row=lesson.routine, values={"on_shelf": True})
    address = reverse("routine_detail", args=[lesson.routine.pk])
    assert TEXT in signed_in(cast.teacher).get(address).text
    assert TEXT not in signed_in(cast.mate).get(address).text
    assert Api(cast.mate).get(f"routine-parts/{part.pk}/")["goals"] == []
    copy = services.routine_copy(actor=cast.mate, row=lesson.routine)
    assert not StudentGoal.objects.filter(routine_parts__routine=copy).exists()


def test_a_variant_serves_the_same_goals_and_a_strangers_goal_is_none(
    lesson: Lesson, cast: Cast, goal: StudentGoal
) -> None:
    """Copies take those along that the copier may see."""
    serve(lesson, [goal])
    variant = services.routine_copy(actor=cast.teacher, row=lesson.routine, variant="Lower energy")
    assert [list(part.goals.all()) for part in variant.parts.all()] == [[], [], [goal], []]
    StudentGoal.objects.filter(pk=goal.pk).update(student=cast.mates_student)
    with pytest.raises(ValidationError, match="your students' goals"):
        serve(lesson, [goal], at=0)
    # A goal that one doesn't see stays where it is while others are chosen.
    own = goal_of(lesson, cast.student, "Will hop 5 times.")
    part = serve(lesson, [own])
    assert set(part.goals.all()) == {goal, own}
    copy = services.routine_copy(actor=cast.teacher, row=lesson.routine)
    assert [list(one.goals.all()) for one in copy.parts.all()] == [[], [], [own], []]


def test_by_the_api_with_goals_of_ones_own_students(lesson: Lesson, goal: StudentGoal) -> None:
    """Set and cleared; what isn't sent stays; another's goal is none that there is."""
    part = lesson.parts()[2]
    api = Api(lesson.cast.teacher)
    assert api.patch(f"routine-parts/{part.pk}/", goals=[goal.pk])["goals"] == [goal.pk]
    assert api.patch(f"routine-parts/{part.pk}/", cue="The bell")["goals"] == [goal.pk]
    hour = api.get(f"class-hours/{lesson.day}/")[0]
    assert hour["parts"][2]["goals"][0]["text"] == TEXT
    assert api.patch(f"routine-parts/{part.pk}/", goals=[])["goals"] == []


def test_a_substitute_sees_them_while_the_day_is_covered(lesson: Lesson, goal: StudentGoal) -> None:
    """As with all that is written of the student."""
    cast = lesson.cast
    serve(lesson, [goal])
    today = date_there()
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute,
        first_date=min(today, lesson.day), last_date=max(today, lesson.day),
    )  # fmt: skip
    hours = hours_shown(hours_of_day(cast.substitute, cast.teacher, lesson.day))
    assert [one.text for hour in hours for part in hour.parts for one in part.goals] == [TEXT]


def test_a_goals_page_says_where_it_is_practiced(lesson: Lesson, goal: StudentGoal) -> None:
    """The part and the station that name it, and no longer once they are taken out; else how to choose them."""
    client = signed_in(lesson.cast.teacher)
    assert "No part of a routine and no station names this goal." in client.get(f"/goals/{goal.pk}/").text
    part = serve(lesson, [goal])
    station = Station.objects.create(district=lesson.cast.district, name="Low beam")
    StationGoal.objects.create(station=station, goal=goal)
    page = client.get(f"/goals/{goal.pk}/").text
    assert f"{part}, {lesson.routine}" in page
    assert f"/stations/{station.pk}/" in page
    services.part_take_out(actor=lesson.cast.teacher, row=part)
    assert f"{part}, {lesson.routine}" not in client.get(f"/goals/{goal.pk}/").text
