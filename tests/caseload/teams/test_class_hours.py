"""A mate's class hour, load list and stations: for who logs for each other, to read, on the team's days alone.

By the same rule as the mate's day sheet (34 CFR 99.31(a)(1), see test_teams.py). People are invented.
"""

import pytest
from django.test import Client
from django.urls import reverse

from caseload.access.models import Access
from caseload.access.watching import MATE
from caseload.teams.models import Team
from caseload.teams.services import team_save
from schedule.stations.choices import RotationChoices
from schedule.stations.models import Station
from schedule.stations.services import rotation_make, station_save
from tests.api import Api
from tests.caseload.progress.builders import make_goal
from tests.caseload.teams.test_teams import DAY, LOG, SEE, browser_of, make_team
from tests.conftest import Cast, date_there
from tests.schedule.class_hour.conftest import Lesson, make_lesson

pytestmark = pytest.mark.django_db


@pytest.fixture
def lesson(cast: Cast) -> Lesson:
    """Today's, with stations that were set up."""
    made = make_lesson(cast, date_there())
    values = {"name": "Beam", "at_a_time": 1, "goals": [make_goal(cast.student)]}
    beam = station_save(actor=cast.teacher, row=Station(), values=values)
    choices = RotationChoices(stations=(beam.pk,), rounds=1, minutes=10)
    rotation_make(actor=cast.teacher, session=made.session.uid, choices=choices)
    return made


def pages(lesson: Lesson) -> dict[str, str]:
    """Addresses of the three, by their names."""
    whose = f"?teacher={lesson.cast.teacher.pk}"
    return {
        "class_hour": reverse("class_hour", args=[lesson.day, lesson.session.uid]) + whose,
        "load_list": reverse("load_list", args=[lesson.day]) + whose,
        "rotation": reverse("rotation", args=[lesson.session.uid]),
    }


def answers(browser: Client, lesson: Lesson) -> list[int]:
    """What the three answer."""
    return [browser.get(address).status_code for address in pages(lesson).values()]


def test_who_logs_for_each_other_reads_them(lesson: Lesson) -> None:
    """With the routine, what is taken along and who is where; who only sees, and who is in no team, don't."""
    cast, browser = lesson.cast, browser_of(lesson.cast.mate)
    assert answers(browser, lesson) == [404, 404, 404]
    team = make_team(cast, shares=SEE)
    assert answers(browser, lesson) == [404, 404, 404]
    team_save(actor=cast.coordinator, row=team, values={"shares": LOG})
    assert answers(browser, lesson) == [200, 200, 200]
    hour, load, stations = (browser.get(address).content.decode() for address in pages(lesson).values())
    assert "Room 4 lesson" in hour
    assert "Who is at which station" in hour
    assert "Poly spots" in load
    assert "Beam" in stations
    assert cast.student.full_name in stations
    seen = Access.objects.filter(person=cast.mate, why=MATE, students=cast.student)
    assert {"class_hour", "rotation"} <= set(seen.values_list("page", flat=True))
    [told] = Api(cast.mate).get(f"class-hours/{lesson.day}/", teacher=cast.teacher.pk)
    assert told["routine_title"] == "Room 4 lesson"
    assert Api(cast.mate).get(f"load-lists/{lesson.day}/", teacher=cast.teacher.pk)["sessions"] == 1


def test_nothing_of_them_is_the_mates_to_change(lesson: Lesson) -> None:
    """No form stands on the pages, and what forms would send is refused; the teacher has them all."""
    cast, browser, own = lesson.cast, browser_of(lesson.cast.mate), browser_of(lesson.cast.teacher)
    make_team(cast, shares=LOG)
    for name, address in pages(lesson).items():
        seen = browser.get(address).content.decode()
        main = seen[seen.index("<main") : seen.index("</main")]
        assert 'method="post"' not in main, name
        for way in ("/run/", "/routines/", "/set-up/", "/cards/"):
            assert way not in main, (name, way)
    assert "/set-up/" in own.get(pages(lesson)["rotation"]).content.decode()
    whose, at = {"teacher": cast.teacher.pk}, [lesson.day, lesson.session.uid]
    refused = [
        browser.get(reverse("class_hour_run", args=at), whose),
        browser.post(reverse("class_hour_choose", args=at) + f"?teacher={cast.teacher.pk}", {"routine": "none"}),
        browser.get(reverse("rotation_set_up", args=at[1:])),
        browser.post(reverse("rotation_back", args=at[1:])),
        browser.get(reverse("rotation_cards", args=at[1:])),
        browser.get(reverse("routine_detail", args=[lesson.routine.pk])),
        browser.post(f"/api/1/class-hours/{lesson.day}/?teacher={cast.teacher.pk}", {}),
    ]
    assert {answer.status_code for answer in refused} <= {403, 404, 400}
    assert {answer.status_code for answer in refused[:6]} == {404}
    assert answers(own, lesson) == [200, 200, 200]


def test_on_other_days_there_is_nothing_of_them(lesson: Lesson) -> None:
    """A team that begins tomorrow, in the same week or not."""
    cast = lesson.cast
    make_team(cast, shares=Team.Shares.LOG, first_day=date_there() + DAY, last_day=date_there() + 9 * DAY)
    browser = browser_of(cast.mate)
    found = pages(lesson)
    assert browser.get(found["class_hour"]).status_code == 404
    assert browser.get(found["rotation"]).status_code == 404
    load = browser.get(found["load_list"])
    assert load.status_code == 404 or "No session takes place on this day." in load.content.decode()


def test_the_day_sheet_leads_there(lesson: Lesson) -> None:
    """And not to the clock that runs."""
    make_team(lesson.cast, shares=LOG)
    address = reverse("day_of", args=[lesson.day]) + f"?teacher={lesson.cast.teacher.pk}"
    page = browser_of(lesson.cast.mate).get(address).content.decode()
    for way in pages(lesson).values():
        assert way.replace("&", "&amp;") in page, way
    assert f"/{lesson.session.uid}/run/" not in page
