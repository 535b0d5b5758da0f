"""A teacher's own pages call students and schools by name; codes stand where a code is what is asked for."""

import html
import re

import pytest
from django.test import Client

from caseload.plans.models import Student
from schedule.weeks.models import WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_remove
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line, make_week
from travel.places.models import Building

FACT = re.compile(r"<dt>Code</dt>\s*<dd>[^<]*</dd>")
UNSEEN = re.compile(r"<(script|style)\b.*?</\1>", re.DOTALL)
SAID = re.compile(r'(?:aria-label|title|alt|placeholder)="([^"]*)"')
LEFT_OUT = re.compile(r"/(sign-out|static|api|import|reports)/|\.(csv|xlsx|ics|pdf)$")
"""Tables to be filled ask for codes, and the rows of a report are found again by them."""


@pytest.fixture
def weeks(cast: Cast) -> WeekPlan:
    """A week in force with a drive and a group, and a draft with one session taken out; codes as in no word."""
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    mates = [make_line(cast, "G1", building=cast.south), make_line(cast, "G2", building=cast.south)]
    for student in Student.objects.filter(district=cast.district):
        student.last_name = "BDFG"[student.pk % 4] + "oss"
        student.code = f"QX-{student.pk}"
        student.save()
    for row in Building.objects.filter(district=cast.district):
        Building.objects.filter(pk=row.pk).update(code=f"Z{row.code}")
    own, group = f"line-{cast.line.pk}", "group-" + "-".join(str(line.pk) for line in mates)
    held = [(own, date(0), "9:20"), (own, date(2), "9:20"), (f"line-{far.pk}", date(0), "13:15")]
    week = make_week(cast, [*held, (group, date(1), "13:15")])
    week = week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    uid = next(one.uid for one in week.sessions.filter(date=date(2)))
    return week_session_remove(actor=cast.teacher, week=week, uid=uid, expected_revision=week.revision)


def links(page: str, path: str) -> list[str]:
    found = (html.unescape(one) for one in re.findall(r'href="([^"#]+)', page))
    found = (path.split("?")[0] + one if one.startswith("?") else one for one in found)
    return [one for one in found if one.startswith("/") and not LEFT_OUT.search(one)]


def words(page: str) -> str:
    """What a page says to eyes and ears."""
    page = FACT.sub("", UNSEEN.sub("", page))
    return html.unescape("\n".join([re.sub(r"<[^>]+>", "\n", page), *SAID.findall(page)]))


def test_a_teachers_pages_say_names_and_no_codes(cast: Cast, weeks: WeekPlan) -> None:
    client = Client()
    client.force_login(cast.teacher)
    waiting = ["/", f"/week/?week={MONDAY}", f"/week/{weeks.pk}/", f"/week/{weeks.pk}/compare/", "/map/"]
    seen: set[str] = set()
    said = ""
    while waiting:
        path = waiting.pop(0)
        shape = re.sub(r"[0-9a-f-]{36}|\d+", "N", path)
        if shape in seen:
            continue
        seen.add(shape)
        answer = client.get(path, follow=True)
        if "html" not in answer.headers.get("Content-Type", ""):
            continue
        page = answer.content.decode()
        waiting += links(page, path)
        codes = [line for line in words(page).splitlines() if re.search(r"QX-\d|\bZ(NORTH|SOUTH)\b", line)]
        assert codes == [], path
        said += words(page)
    assert len(seen) > 40
    assert re.search(r"Ola [BDFG]oss", said)
    assert "are taken together" in said
    assert "drive from North Hollow School to South Hollow School" in said
