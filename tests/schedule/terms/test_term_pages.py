"""The term's pages without a script, and the same through the API."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail
from schedule.weeks.models import WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_cycle, make_entry, make_ground, make_line
from tests.schedule.terms.test_term_plans import WEEK, planned

STUDENT = ("Ola", "Tarn", "Quernmore", "Ilsabet", "S01", "G1")


@pytest.fixture
def caseload(cast: Cast) -> list[ServiceLine]:
    """S01 twice a week, one more; the second week's Tuesday and Thursday have no school."""
    make_ground(cast)
    for day in (8, 10):
        make_entry(cast, MONDAY + dt.timedelta(days=day), "closed")
    return [make_line(cast, "G1")]


def page(person: Person, name: str, *args: object, **values: str) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get(reverse(name, args=args), values)
    assert answer.status_code == 200, answer.content.decode()[:2000]
    return str(answer.content.decode())


def press(person: Person, name: str, term: TermPlan) -> str:
    client = Client()
    client.force_login(person)
    answer = client.post(reverse(name, args=[term.pk]), follow=True)
    assert answer.status_code == 200, answer.content.decode()[:2000]
    return str(answer.content.decode())


def test_a_term_is_asked_for_by_form(cast: Cast, caseload: list[ServiceLine]) -> None:
    client = Client()
    client.force_login(cast.teacher)
    assert "No term is planned yet" in page(cast.teacher, "terms")
    assert "go around drafts that they are at work on" in page(cast.teacher, "term_plan")
    asked = {"first_date": "2026-09-14", "last_date": "2026-09-25", "worth": "45", "time_limit": "30"}
    answer = client.post(reverse("term_plan"), asked, follow=True)
    term = TermPlan.objects.get()
    assert (term.worth, term.run.time_limit) == (45, 30)
    text = answer.content.decode()
    assert "Stop and keep the best so far" in text
    assert "45 minutes" in page(cast.teacher, "terms")
    refused = client.post(reverse("term_plan"), {**asked, "last_date": "2028-09-25"})
    assert refused.status_code == 422
    assert "at most 45 weeks" in refused.content.decode()
    too_much = client.post(reverse("term_plan"), {**asked, "worth": "9999"})
    assert "Give 0 to 240 whole minutes of driving a week, or leave it empty." in too_much.content.decode()


def test_the_page_asks_what_the_week_that_it_draws_wants_in_two_places(
    cast: Cast, caseload: list[ServiceLine]
) -> None:
    """By the one rule that week, draft and editor ask; another kind of week is asked about when it is drawn."""
    term = planned(cast)
    weeks = list(WeekPlan.objects.filter(plan_run=term.run).order_by("monday"))
    for week in (weeks[0], weeks[-1]):
        text = page(cast.teacher, "term", term.pk, week=str(week.pk))
        drawn = re.search(r"Drawn as in the <a href=\"/week/(\d+)/", text)
        assert drawn is not None
        asked = reverse("week_equipment", args=[drawn[1]])
        assert f'id="wanted-twice" class="no-print" hx-get="{asked}"' in text
        assert "Nothing is wanted in two places at once." in page(cast.teacher, "week_equipment", drawn[1])


def test_the_page_shows_the_timetable_and_each_exception_by_name(cast: Cast, caseload: list[ServiceLine]) -> None:
    term = planned(cast)
    text = page(cast.teacher, "term", term.pk)
    assert text.count('<svg class="strip') == 2, "the week, and a day for a narrow screen"
    assert "At their usual time" in text
    assert "Ola Tarn" in text
    assert "North Hollow School" in text
    assert "closed (Wind day)" not in text, "exceptions of a week are read when somebody opens it"
    second = str(MONDAY + WEEK)
    assert "closed (Wind day)" in page(cast.teacher, "term", term.pk, exceptions=second)
    client = Client()
    client.force_login(cast.teacher)
    part = client.get(reverse("term", args=[term.pk]), {"exceptions": second}, headers={"HX-Request": "true"})
    assert part.content.decode().startswith("<ul><li>")
    assert "closed (Wind day)" in part.content.decode()
    none = client.get(reverse("term", args=[term.pk]), {"exceptions": "2027-09-14"}, headers={"HX-Request": "true"})
    assert none.status_code == 404
    assert "Publish the whole term" in text
    assert "Take this timetable back" not in text


def test_the_plainest_week_is_drawn_and_printed_whichever_turn_a_rotation_has(cast: Cast) -> None:
    """The week that begins on Day 1 has one day with school and two sessions; it would come first by its name."""
    make_ground(cast)
    make_cycle(cast.north)
    for day in (1, 2, 3, 4):
        make_entry(cast, date(day), "closed")
    term = planned(cast, weeks=2)
    kinds = term_detail(cast.teacher, term).kinds
    assert (kinds[0].monday, kinds[0].exceptions > 0) == (MONDAY, True)
    plain = min(kinds, key=lambda one: (one.exceptions, one.monday))
    assert plain.exceptions < kinds[0].exceptions
    assert f'<a href="/week/{plain.week_id}/">week of' in page(cast.teacher, "term", term.pk)
    assert f"week of {plain.monday:%B %-d}" in page(cast.teacher, "term_print", term.pk)


def test_publish_and_take_back_by_press(cast: Cast, caseload: list[ServiceLine]) -> None:
    far = dt.date(2027, 3, 1)
    term = planned(cast, first=far)
    text = press(cast.teacher, "standing_publish", term)
    assert "Its weeks are drafts" in text
    assert "Publish the 3 drafts" in text
    text = press(cast.teacher, "term_publish", term)
    assert "The standing timetable and 3 weeks are in force. It can be taken back" in text
    text = press(cast.teacher, "term_take_back", term)
    assert "3 weeks have no plan in force now." in text
    assert f"Taken back by {cast.teacher} on " in page(cast.teacher, "terms")
    assert not WeekPlan.objects.filter(status=WeekPlan.Status.PUBLISHED).exists()


def test_the_print_names_no_student(cast: Cast, caseload: list[ServiceLine]) -> None:
    term = planned(cast)
    text = page(cast.teacher, "term_print", term.pk)
    assert text.count('<svg class="strip') == 1
    article = text[text.index("<article") :]
    assert not [name for name in STUDENT if name in article]


def test_the_print_says_what_is_owed_and_placed_in_each_week(cast: Cast, caseload: list[ServiceLine]) -> None:
    """Three whole weeks of 2 x 30 and 1 x 30 owe 270; on the second's three days left all of it has a time too."""
    term = planned(cast)
    text = page(cast.teacher, "term_print", term.pk)
    minutes = text[text.index('id="wall-minutes"') :]
    assert "270 of 270 owed minutes have a time." in minutes
    assert minutes.count("<td>90</td><td>90</td>") == 3
    assert "<td>270</td><td>270</td>" in minutes
    reserve = "rate of missed sessions, room for"
    assert reserve in minutes
    assert reserve in page(cast.teacher, "term", term.pk)


def test_the_api_does_what_the_pages_do(cast: Cast, caseload: list[ServiceLine]) -> None:
    client = Client()
    client.force_login(cast.teacher)

    def post(name: str, *args: object, **body: object) -> Any:
        answer = client.post(reverse(f"api:{name}", args=args), body, content_type="application/json")
        assert answer.status_code in {200, 201}, answer.content
        return answer.json()

    made = post("term-list", first_date="2026-09-14", last_date="2026-09-25", worth=30)
    assert made["state"] == "planning"
    assert made["worth"] == 30
    term = planned(cast, first=MONDAY, weeks=2, worth=30)
    found = client.get(reverse("api:term-detail", args=[term.pk])).json()
    assert found["state"] == "draft"
    assert [week["monday"] for week in found["weeks"]] == ["2026-09-14", "2026-09-21"]
    assert post("term-publish-timetable", term.pk)["state"] == "in_force"
    assert post("term-publish", term.pk) == {"weeks": 2, "refused": []}
    assert post("term-take-back", term.pk)["emptied"] >= 0
    refused = client.post(reverse("api:term-list"), {"first_date": "2026-09-14"}, content_type="application/json")
    assert refused.status_code == 400


def test_a_week_begun_stays_when_the_term_is_taken_back(cast: Cast, caseload: list[ServiceLine]) -> None:
    """The invented year lies before or after today wherever the tests run: the sentence follows what happened."""
    term = planned(cast, first=MONDAY + 2 * WEEK, weeks=1)
    press(cast.teacher, "term_publish", term)
    text = press(cast.teacher, "term_take_back", term)
    assert "The standing timetable is taken back." in text


def test_a_term_says_which_of_its_planned_days_will_not_be(cast: Cast) -> None:
    """A day that is closed once the term is planned: page and API say so, for the whole day or for one school."""
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    term = planned(cast, weeks=2)
    assert "be as planned" not in page(cast.teacher, "term", term.pk)
    week = WeekPlan.objects.filter(plan_run=term.run).order_by("monday").first()
    assert week is not None
    date = week.sessions.order_by("date").values_list("date", flat=True)[0]
    make_entry(cast, date, "closed")
    text = page(cast.teacher, "term", term.pk)
    assert "be as planned.</strong>" in text
    assert f"{date:%A, %B} {date.day}, {date:%Y}: No session takes place" in text
    client = Client()
    client.force_login(cast.teacher)
    told = client.get(f"/api/1/terms/{term.pk}/").json()
    [day] = told["weeks"][0]["not_held"]
    assert (day["date"], day["whole_day"], day["sessions"]) == (
        date.isoformat(),
        True,
        week.sessions.filter(date=date).count(),
    )
    assert told["weeks"][1]["not_held"] == []
