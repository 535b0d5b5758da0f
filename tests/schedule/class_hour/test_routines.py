"""Routines and their parts: written, copied, varied, put away and brought back; by whom."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.plans.models import SchoolClass
from schedule.class_hour import services
from schedule.class_hour.models import Routine, RoutinePart
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.class_hour.conftest import Lesson, add_part


def names(lesson: Lesson) -> list[str]:
    """The parts as they are called, in order."""
    return [str(part) for part in lesson.parts()]


def test_a_part_is_called_by_its_name_its_activity_or_its_kind(lesson: Lesson) -> None:
    """Whichever there is first."""
    add_part(lesson.cast.teacher, lesson.routine, kind="other", title="Circle time", activity=lesson.tag)
    assert names(lesson) == ["Warm-up", "Shadow tag", "Stations", "Cool-down", "Circle time"]


def test_moved_taken_out_and_brought_back_to_its_place(lesson: Lesson) -> None:
    """Moving twice to the same place changes it once."""
    teacher = lesson.cast.teacher
    for _ in range(2):
        services.part_move(actor=teacher, row=lesson.parts()[-1] if _ == 0 else lesson.parts()[1], to=2)
        assert names(lesson) == ["Warm-up", "Cool-down", "Shadow tag", "Stations"]
    game = lesson.parts()[2]
    services.part_take_out(actor=teacher, row=game)
    assert names(lesson) == ["Warm-up", "Cool-down", "Stations"]
    services.part_bring_back(actor=teacher, row=game)
    assert names(lesson) == ["Warm-up", "Cool-down", "Shadow tag", "Stations"]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"minutes": 5, "least_minutes": 6}, "least length is longer"),
        ({"kind": "other"}, "Name this part"),
        ({"minutes": 0, "least_minutes": 0}, "greater than or equal to 1"),
        ({"minutes": 121}, "less than or equal to 120"),
        ({"needs": {10**6: 1}}, "equipment of your district"),
    ],
)
def test_bad_parts_are_refused(lesson: Lesson, values: dict[str, object], words: str) -> None:
    """And nothing of them is kept."""
    with pytest.raises(ValidationError, match=words):
        add_part(lesson.cast.teacher, lesson.routine, **values)
    assert len(lesson.parts()) == 4


def test_a_routine_has_fifteen_parts_at_most(lesson: Lesson) -> None:
    """The next is refused, in words; so is bringing one back."""
    for _ in range(11):
        add_part(lesson.cast.teacher, lesson.routine)
    with pytest.raises(ValidationError, match="at most 15"):
        add_part(lesson.cast.teacher, lesson.routine)
    row = lesson.parts()[0]
    services.part_take_out(actor=lesson.cast.teacher, row=row)
    add_part(lesson.cast.teacher, lesson.routine)
    with pytest.raises(ValidationError, match="at most 15"):
        services.part_bring_back(actor=lesson.cast.teacher, row=row)


def test_a_copy_has_all_parts_and_what_they_take(lesson: Lesson) -> None:
    """It is the copier's own, without the class; the original stays as it is."""
    cast = lesson.cast
    services.routine_save(actor=cast.teacher, row=lesson.routine, values={"on_shelf": True})
    copy = services.routine_copy(actor=cast.mate, row=lesson.routine)
    services.part_take_out(actor=cast.mate, row=copy.parts.all()[0])
    assert (copy.teacher, copy.school_class, copy.on_shelf, copy.variant_of) == (cast.mate, None, False, None)
    assert [[need.count for need in part.needs.all()] for part in copy.parts.all()] == [[], [8], [5], []]
    assert len(lesson.parts()) == 4


def test_a_variant_belongs_to_its_routine_and_says_what_is_different(lesson: Lesson) -> None:
    """A variant of a variant is one of the original, and one's own routines alone have variants."""
    teacher = lesson.cast.teacher
    first = services.routine_copy(actor=teacher, row=lesson.routine, variant="Lower energy")
    second = services.routine_copy(actor=teacher, row=first, variant="Small space")
    assert (str(first), second.variant_of) == ("Room 4 lesson: Lower energy", lesson.routine)
    services.routine_save(actor=teacher, row=lesson.routine, values={"on_shelf": True})
    with pytest.raises(ApplicationError, match="Copy it"):
        services.routine_copy(actor=lesson.cast.mate, row=lesson.routine, variant="Older students")


def test_one_routine_for_a_class_until_it_is_put_away(lesson: Lesson) -> None:
    """Bringing it back is refused as long as the class has another."""
    teacher = lesson.cast.teacher
    values = {"name": "Another", "school_class": lesson.cast.room4}
    with pytest.raises(ValidationError, match="has a routine already"):
        services.routine_save(actor=teacher, row=Routine(), values=values)
    services.routine_put_away(actor=teacher, row=lesson.routine)
    services.routine_save(actor=teacher, row=Routine(), values=values)
    with pytest.raises(ValidationError, match="has a routine already"):
        services.routine_bring_back(actor=teacher, row=lesson.routine)


def test_a_shelf_shows_no_students(lesson: Lesson) -> None:
    """Whoever shares a routine leaves its group out."""
    values = {"on_shelf": True, "students": [lesson.cast.student]}
    with pytest.raises(ValidationError, match="names no students"):
        services.routine_save(actor=lesson.cast.teacher, row=lesson.routine, values=values)


def test_others_read_the_shelf_and_change_nothing(lesson: Lesson) -> None:
    """Before it is on the shelf they don't see it at all; a coordinator may change it."""
    cast, routine = lesson.cast, lesson.routine
    with pytest.raises(ApplicationError, match="nothing here"):
        services.part_take_out(actor=cast.mate, row=lesson.parts()[0])
    assert not RoutinePart.objects.visible_to(cast.mate).exists()
    services.routine_save(actor=cast.coordinator, row=routine, values={"on_shelf": True})
    assert RoutinePart.objects.visible_to(cast.mate).count() == 4
    for act in (
        lambda: services.part_take_out(actor=cast.mate, row=lesson.parts()[0]),
        lambda: services.part_move(actor=cast.mate, row=lesson.parts()[0], to=2),
        lambda: services.routine_put_away(actor=cast.mate, row=routine),
        lambda: add_part(cast.mate, routine),
    ):
        with pytest.raises(ApplicationError, match="another teacher's"):
            act()
    assert not Routine.objects.visible_to(cast.office).exists()
    assert not Routine.objects.visible_to(cast.stranger).exists()


def test_by_the_api_from_nothing_to_a_routine(cast: Cast, lesson: Lesson) -> None:
    """A routine, two parts, moved, one out and back; a copy; put away and back."""
    api = Api(cast.teacher)
    made = api.post("routines/", name="Pool day", attention_minutes=6)
    assert made["teacher"] == cast.teacher.pk
    first = api.post("routine-parts/", routine=made["id"], kind="warm_up", minutes=4, least_minutes=2)
    needs = [{"equipment": lesson.spots.pk, "count": 3}]
    second = api.post("routine-parts/", routine=made["id"], minutes=6, least_minutes=4, needs=needs)
    assert second["needs"] == needs
    api.post("routine-parts/", expect=400, routine=made["id"], needs=needs * 2)
    assert api.post(f"routine-parts/{second['id']}/move/", expect=200, to=1)["position"] == 1
    api.delete(f"routine-parts/{first['id']}/")
    assert [one["id"] for one in api.get("routine-parts/", routine=made["id"])["results"]] == [second["id"]]
    api.post(f"routine-parts/{first['id']}/bring-back/", expect=200)
    assert api.patch(f"routine-parts/{second['id']}/", needs=[])["needs"] == []
    assert api.post(f"routines/{made['id']}/copy/", variant="Cold water")["variant_of"] == made["id"]
    api.delete(f"routines/{made['id']}/")
    api.get(f"routines/{made['id']}/", expect=404)
    assert api.post(f"routines/{made['id']}/bring-back/", expect=200)["name"] == "Pool day"
    Api(cast.coordinator).post("routines/", expect=400, name="Whose?")


def test_a_coordinator_chooses_the_teacher_before_students_and_classes(cast: Cast) -> None:
    """A district has thousands; who is chosen already stays, and nobody else's are taken."""
    client, address = Client(), reverse("routine_new")
    client.force_login(cast.coordinator)

    def offered(answer: Any) -> tuple[set[int], set[int]]:
        fields = answer.context["form"].fields
        students, classes = fields["students"].queryset, fields["school_class"].queryset
        return {one.pk for one in students}, {one.pk for one in classes}

    south = SchoolClass.objects.create(building=cast.south, code="RM9", name="Room 9")
    assert offered(client.get(address)) == (set(), set())
    assert offered(client.get(address, {"teacher": "x"})) == (set(), set())
    assert offered(client.get(address, {"teacher": cast.stranger.pk})) == (set(), set())
    assert offered(client.get(address, {"teacher": cast.teacher.pk})) == ({cast.student.pk}, {cast.room4.pk})
    values = {"teacher": cast.teacher.pk, "name": "Pool day"}
    for wrong in ({"students": [cast.mates_student.pk]}, {"school_class": south.pk}):
        assert client.post(address, {**values, **wrong}).status_code == 422
    assert not Routine.objects.filter(name="Pool day").exists()
    assert client.post(address, {**values, "students": [cast.student.pk]}).status_code == 302
    routine = Routine.objects.get(name="Pool day")
    # Another teacher's from now on: the group stays among those who can be ticked.
    change = reverse("routine_change", args=[routine.pk])
    kept = {"teacher": cast.mate.pk, "name": "Pool day", "students": [cast.student.pk]}
    assert client.post(change, kept).status_code == 302
    both = {cast.student.pk, cast.mates_student.pk}
    assert offered(client.get(change)) == (both, {south.pk})


def test_a_teachers_form_offers_the_own(cast: Cast) -> None:
    """As before: the own students, and classes of every school."""
    client = Client()
    client.force_login(cast.teacher)
    form = client.get(reverse("routine_new")).context["form"]
    assert [one.pk for one in form.fields["students"].queryset] == [cast.student.pk]
    assert "teacher" not in form.fields
