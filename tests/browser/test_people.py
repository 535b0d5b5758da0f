"""People and what they see: long lists on a phone, and every page of a reviewer and of a mate through axe-core."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESK, PHONE, Site, sign_in
from tests.browser.test_accessibility import crawl, faults_here

pytestmark = pytest.mark.browser

MAKE = """
import datetime as dt
from django.utils import timezone
from accounts.models import Person
from accounts.selectors import today_of
from caseload.teams.models import Team
from travel.places.models import Building, BuildingReview
teacher = Person.objects.get(username="teacher")
district, today = teacher.district, today_of(teacher)
soon, ages = today + dt.timedelta(days=30), today - dt.timedelta(days=300)
def person(username, role, name):
    one = Person(username=username, role=role, first_name="Ansa", last_name=name, district=district)
    one.password = teacher.password
    one.save()
    return one
reviewer = person("looks", "reviewer", "Quist")
review = BuildingReview.objects.create(
    district=district, reviewer=reviewer, first_date=ages, last_date=soon, opens_on=today, ends_on=soon
)
review.buildings.set(Building.objects.filter(district=district))
mate = person("shares", "teacher", "Dorr")
team = Team.objects.create(district=district, name="PE", shares="log", first_day=ages, last_day=soon)
team.members.set([teacher, mate])
print("teacher", teacher.pk)
for number in range(13):
    one = person(f"new{number}", "teacher", f"Calloway-Hathersage {number}")
    Person.objects.filter(pk=one.pk).update(given_password_ends=timezone.now() + dt.timedelta(days=5))
"""
MEND = """
from accounts.models import Person, AuditEntry
from caseload.access.models import Access
from caseload.teams.models import Team
from travel.places.models import BuildingReview
Team.objects.all().delete()
BuildingReview.objects.all().delete()
gone = Person.objects.filter(first_name="Ansa")
Access.objects.filter(person__in=gone).delete()
gone.delete()
"""


@pytest.fixture(scope="module")
def teacher(site: Site) -> Iterator[str]:
    """The number of the teacher, on a site with a reviewer, a mate, and thirteen who never signed in."""
    yield site.manage("shell", "--no-imports", "-c", MAKE).split()[-1]
    site.manage("shell", "--no-imports", "-c", MEND)


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A page on a desk, light."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(("username", "least"), [("looks", 12), ("shares", 15)])
def test_pages_of_a_reviewer_and_of_a_mate_have_no_violations(
    page: Page, site: Site, teacher: str, username: str, least: int
) -> None:
    """The first pages of each shape that they reach from students, from the week and by links, wide and narrow."""
    sign_in(page, site, username)
    found: dict[str, list[str]] = {}
    whose = f"?teacher={teacher}"
    mates = ["/students/", f"/week/{whose}", f"/log/{whose}"]
    for path in crawl(page, site, most=20, first=mates if username == "shares" else ["/students/", "/week/"]):
        if path.startswith("/manual/"):
            continue
        found[path] = faults_here(page)
        page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        found[path] += faults_here(page)
        page.set_viewport_size(DESK)  # type: ignore[arg-type]
    assert len(found) >= least
    assert [fault for faults_of_page in found.values() for fault in faults_of_page] == []


@pytest.mark.usefixtures("teacher")
def test_nothing_of_a_long_list_of_people_overlaps_on_a_phone(page: Page, site: Site) -> None:
    """Who hasn't chosen a password and has never signed in: badge and words beside or below each other."""
    sign_in(page, site, "coordinator")
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(f"{site.address}/people/")
    rows = page.locator("ul.rows.people > li").filter(has_text="Has not chosen a password")
    assert rows.count() >= 13
    for row in rows.all():
        badge = row.locator(".badge").bounding_box()
        told = row.get_by_text("Never signed in").bounding_box()
        whole = row.bounding_box()
        assert badge is not None
        assert told is not None
        assert whole is not None
        beside = badge["x"] + badge["width"] <= told["x"]
        below = badge["y"] + badge["height"] <= told["y"]
        assert beside or below
        assert badge["x"] + badge["width"] <= whole["x"] + whole["width"]


@pytest.mark.usefixtures("teacher")
def test_a_long_list_of_boxes_is_narrowed_by_words(page: Page, site: Site) -> None:
    """What is ticked stays in sight; Enter sends nothing; nothing typed shows all again."""
    sign_in(page, site, "coordinator")
    page.goto(f"{site.address}/teams/new/")
    boxes = page.locator("#id_members").get_by_role("checkbox")
    every = boxes.count()
    page.get_by_label("Ansa Dorr").check()
    find = page.get_by_label("Find in this list")
    find.fill("hathersage 12")
    find.press("Enter")
    assert page.url.endswith("/teams/new/")
    expect(page.get_by_role("status").filter(has_text=f"2 of {every} shown")).to_be_visible()
    assert boxes.count() == 2
    assert faults_here(page) == []
    find.fill("")
    assert boxes.count() == every
