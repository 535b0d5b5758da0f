"""The pages of routines, class hours and load lists: changed, and taken back."""

import json
import re

from django.test import Client

from accounts.models import Person
from caseload.care.models import Caution, CautionTag
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.services import routine_save
from schedule.equipment.models import SpaceCautions
from schedule.stations.choices import RotationChoices
from schedule.stations.models import Station
from schedule.stations.services import rotation_make, rotation_take_back, station_save
from tests.caseload.progress.builders import make_goal
from tests.conftest import Cast
from tests.schedule.class_hour.conftest import Lesson


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


PART = {"kind": "warm_up", "minutes": 6, "least_minutes": 4, "when_short": 1}


def test_from_an_empty_list_to_a_routine_with_a_part(cast: Cast, lesson: Lesson) -> None:
    """What it takes is written as a teacher writes it; a name that isn't there says how to mend it."""
    Routine.objects.all().delete()
    client = signed_in(cast.teacher)
    assert "No routines yet." in client.get("/routines/").text
    page = client.post("/routines/new/", {"name": "Circle day", "school_class": cast.room4.pk}, follow=True)
    assert "No parts yet." in page.text
    routine = Routine.objects.get()
    path = f"/routines/{routine.pk}/parts/new/"
    page = client.post(path, {**PART, "needs": "4 poly dots"})
    assert page.status_code == 422
    assert "Did you mean “Poly spots”?" in page.text
    client.post(path, {**PART, "needs": "4 poly spots"})
    part = RoutinePart.objects.get()
    assert [(need.count, need.equipment) for need in part.needs.all()] == [(4, lesson.spots)]
    assert "4 Poly spots" in client.get(f"/routines/parts/{part.pk}/change/").text
    assert "at least 4" in client.get(f"/routines/{routine.pk}/").text


def test_tried_in_fewer_minutes(lesson: Lesson) -> None:
    """The page shows what shrinks and what falls out, and what doesn't fit at all."""
    client, path = signed_in(lesson.cast.teacher), f"/routines/{lesson.routine.pk}/"
    page = client.get(path, {"minutes": "14"}).text
    assert "In 14 minutes it goes like this." in page
    assert "falls out" in page
    assert "Too long." in client.get(path, {"minutes": "2"}).text
    assert "goes like this" not in client.get(path, {"minutes": "soon"}).text


def test_parts_moved_out_and_back(lesson: Lesson) -> None:
    """By one press each."""
    client = signed_in(lesson.cast.teacher)
    first = lesson.parts()[0]
    client.post(f"/routines/parts/{first.pk}/move/", {"to": "2"})
    assert lesson.parts()[1] == first
    page = client.post(f"/routines/parts/{first.pk}/move/", {"to": "up"}, follow=True)
    assert "counted from 1" in page.text
    page = client.post(f"/routines/parts/{first.pk}/take-out/", follow=True)
    assert "You can bring it back below." in page.text
    client.post(f"/routines/parts/{first.pk}/bring-back/")
    assert len(lesson.parts()) == 4


def test_a_variant_a_copy_and_put_away(lesson: Lesson) -> None:
    """A variant needs its name; what is put away comes back by one press."""
    client, path = signed_in(lesson.cast.teacher), f"/routines/{lesson.routine.pk}/"
    page = client.post(f"{path}copy/", {"variant": " "}, follow=True)
    assert "what is different" in page.text
    page = client.post(f"{path}copy/", {"variant": "Lower energy"}, follow=True)
    assert "Room 4 lesson: Lower energy" in page.text
    page = client.post(f"{path}copy/", follow=True)
    assert "Copy of Room 4 lesson" in page.text
    page = client.post(f"{path}put-away/", follow=True)
    assert "Room 4 lesson is put away" in page.text
    assert "This routine is put away." in client.get(path).text
    page = client.post(f"{path}bring-back/", follow=True)
    assert "Room 4 lesson is back." in page.text


def test_a_mate_copies_from_the_shelf(lesson: Lesson) -> None:
    """Reads it, can't change it."""
    routine_save(actor=lesson.cast.teacher, row=lesson.routine, values={"on_shelf": True})
    client, path = signed_in(lesson.cast.mate), f"/routines/{lesson.routine.pk}/"
    shown = client.get(path).text
    assert "Copy it" in shown
    assert "Take out" not in shown
    client.post(f"{path}copy/")
    assert Routine.objects.get(teacher=lesson.cast.mate).parts.count() == 4
    page = client.post(f"{path}put-away/")
    assert (page.status_code, "another teacher" in page.text) == (403, True)
    assert client.post(f"{path}change/", {"name": "Mine"}).status_code == 403


def test_the_day_leads_to_the_hour_and_the_hour_runs(lesson: Lesson) -> None:
    """The running view comes whole: its script asks for nothing more, and no student's name is in its data."""
    client = signed_in(lesson.cast.teacher)
    page = client.get(f"/day/{lesson.day}/").text
    base = f"/class-hour/{lesson.day}/{lesson.session.uid}/"
    assert f'href="{base}run/"' in page
    assert "Load list" in page
    page = client.get(base).text
    assert "Ends by: <strong>The drum stops</strong>" in page
    page = client.get(f"{base}run/").text
    found = re.search(r'<script id="run-data" type="application/json">(.*?)</script>', page)
    assert found is not None
    data = json.loads(found[1])
    assert [(one["title"], one["start"]) for one in data["parts"]][:2] == [("Warm-up", 510), ("Shadow tag", 515)]
    assert "Ola" not in found[1]


def test_data_are_taken_while_it_runs(lesson: Lesson) -> None:
    """The goals of the session's students, where there are any."""
    client = signed_in(lesson.cast.teacher)
    path = f"/class-hour/{lesson.day}/{lesson.session.uid}/run/"
    assert "Take data" not in client.get(path).text
    goal = make_goal(lesson.cast.student, start=lesson.day, end=lesson.day)
    page = client.get(path).text
    assert "Take data: 1 goal" in page
    assert goal.text in page


def test_a_space_says_what_to_ask_about(lesson: Lesson) -> None:
    """Written on its page, and taken back."""
    client, gym = signed_in(lesson.cast.teacher), lesson.cast.gym
    tag, _ = CautionTag.objects.get_or_create(district=lesson.cast.district, name="water")
    assert f"/spaces/{gym.pk}/cautions/" in client.get(f"/buildings/{gym.building_id}/").text
    client.post(f"/spaces/{gym.pk}/cautions/", {"caution_tags": [tag.pk]})
    assert list(SpaceCautions.objects.get().caution_tags.all()) == [tag]
    client.post(f"/spaces/{gym.pk}/cautions/", {})
    assert not SpaceCautions.objects.get().caution_tags.exists()


def test_who_comes_with_cautions_and_what_to_do(lesson: Lesson) -> None:
    """On the class hour's page and on the running view, which works without a network once it is open."""
    student = lesson.cast.line.plan.student
    Caution.objects.create(
        student=student, text="Seizures", source="Plan", emergency_steps="Time it\nCall the nurse", decides="Nurse"
    )
    client, base = signed_in(lesson.cast.teacher), f"/class-hour/{lesson.day}/{lesson.session.uid}/"
    for path in (base, f"{base}run/"):
        page = client.get(path).text
        comes = page.partition("Who comes")[2].partition("</section>")[0]
        assert all(words in comes for words in (student.first_name, "Seizures", "Call the nurse"))


def test_a_routine_for_one_session(lesson: Lesson) -> None:
    """Chosen on its page, and taken back; one that isn't in the list changes nothing."""
    client = signed_in(lesson.cast.teacher)
    base = f"/class-hour/{lesson.day}/{lesson.session.uid}/"
    page = client.post(f"{base}routine/", {"routine": "none"}, follow=True)
    assert "No routine this time." in page.text
    # It runs as a whole, then: a clock and nothing to go on to.
    run = client.get(f"{base}run/").text
    assert len(re.findall(r'"part_id": ', run)) == 1
    assert "All parts" not in run
    page = client.post(f"{base}routine/", {"routine": "12345"}, follow=True)
    assert "from the list" in page.text
    page = client.post(f"{base}routine/", {"routine": "usual"}, follow=True)
    assert "Room 4 lesson" in page.text


def test_a_session_elsewhere_or_not_that_day_is_not_there(lesson: Lesson) -> None:
    """404, with the way on."""
    client = signed_in(lesson.cast.teacher)
    assert client.get(f"/class-hour/2026-09-15/{lesson.session.uid}/").status_code == 404
    mate = signed_in(lesson.cast.mate)
    assert mate.get(f"/class-hour/{lesson.day}/{lesson.session.uid}/").status_code == 404


def test_the_load_list(lesson: Lesson) -> None:
    """To tick off in the morning."""
    client = signed_in(lesson.cast.teacher)
    page = client.get(f"/load/{lesson.day}/").text
    assert "8 \N{MULTIPLICATION SIGN} Poly spots" in page
    assert lesson.cast.north.name in page
    assert "No session takes place" in client.get("/load/2026-09-15/").text


def test_who_is_at_which_station_beside_the_routine(lesson: Lesson) -> None:
    """On the class hour's page and, so that it needs no network, in the running view; gone when taken back."""
    client, base = signed_in(lesson.cast.teacher), f"/class-hour/{lesson.day}/{lesson.session.uid}/"
    beam = station_save(actor=lesson.cast.teacher, row=Station(), values={"name": "Low beam"})
    choices = RotationChoices(stations=(beam.pk,), rounds=1, minutes=12)
    rotation_make(actor=lesson.cast.teacher, session=lesson.session.uid, choices=choices)
    for path in (base, f"{base}run/"):
        page = client.get(path).text
        assert "Low beam" in page
        assert "8:30\u20138:42" in page
        assert f"<dd>{lesson.cast.student.full_name}</dd>" in page
    rotation_take_back(actor=lesson.cast.teacher, session=lesson.session.uid)
    assert "Low beam" not in client.get(base).text + client.get(f"{base}run/").text
