"""The main job in a real browser: sign in, import, plan, move, publish, bring back, print."""

import csv
import io
import re
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import PHONE, Site, sign_in

pytestmark = pytest.mark.browser
PLAN_SECONDS = 180_000


@pytest.fixture
def page(context: BrowserContext, site: Site) -> Page:
    """A page with the teacher signed in; no script error may happen on it."""
    one = context.new_page()
    one.on("pageerror", lambda error: pytest.fail(f"a script failed: {error}"))
    sign_in(one, site, "teacher")
    return one


def test_a_wrong_password_says_so_and_the_right_one_opens_the_week(context: BrowserContext, site: Site) -> None:
    """The message doesn't tell whether the name exists."""
    page = context.new_page()
    sign_in(page, Site(site.address, "not the password", site.environment), "teacher")
    expect(page.get_by_role("alert")).to_be_visible()
    sign_in(page, site, "teacher")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Week of")


def student_rows(site: Site, code: str) -> str:
    """A filled table of students with one new row, written on the exported header."""
    template = (Path(__file__).parents[2] / "fixtures" / "students.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(io.StringIO(template)))
    rows[1][0] = code
    out = io.StringIO()
    csv.writer(out).writerows(rows[:2])
    return out.getvalue()


def test_import_a_table_see_it_and_take_it_back(page: Page, site: Site) -> None:
    """Preview first; nothing is saved before it is confirmed; the last import can be undone."""
    page.goto(f"{site.address}/import/tables/students/")
    file = {"name": "students.csv", "mimeType": "text/csv", "buffer": student_rows(site, "NEW1").encode()}
    page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name=re.compile("Look|Check|See", re.IGNORECASE)).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("before it is saved")
    preview = page.url
    page.goto(f"{site.address}/students/")
    expect(page.get_by_text("NEW1")).to_have_count(0)
    page.goto(preview)
    page.get_by_role("button", name=re.compile("^Save")).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("saved")
    page.goto(f"{site.address}/students/")
    expect(page.get_by_text("NEW1").first).to_be_visible()
    page.goto(f"{site.address}/import/")
    page.get_by_role("button", name=re.compile("Undo")).first.click()
    page.goto(f"{site.address}/students/")
    expect(page.get_by_text("NEW1")).to_have_count(0)


def test_a_broken_table_names_row_column_and_remedy(page: Page, site: Site) -> None:
    """A grade that doesn't exist: the row, the column, the value, and what to do."""
    page.goto(f"{site.address}/import/tables/students/")
    broken = re.sub(r"(?m)^(NEW2,[^,]*,[^,]*),[^,]*", r"\1,99", student_rows(site, "NEW2"))
    file = {"name": "students.csv", "mimeType": "text/csv", "buffer": broken.encode()}
    page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name=re.compile("Look|Check|See", re.IGNORECASE)).click()
    row = page.get_by_role("row").filter(has_text="99")
    expect(row.first).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("^Save"))).to_have_count(0)


def plan_a_week(page: Page, site: Site) -> None:
    """Press the one button and watch until the draft is there."""
    page.goto(f"{site.address}/plan/")
    page.locator("main form").get_by_role("button").first.click()
    page.wait_for_url(re.compile("/plan/runs/"))
    expect(page.get_by_role("link", name=re.compile("Compare|Edit", re.IGNORECASE)).first).to_be_visible(
        timeout=PLAN_SECONDS
    )


def open_editor(page: Page) -> None:
    """From the week to its editor. Counting doesn't wait by itself, so this ends once the strip is drawn."""
    page.get_by_role("link", name=re.compile("Edit", re.IGNORECASE)).first.click()
    page.wait_for_url(re.compile("/edit/"))
    expect(page.locator("#week-strip a.session").first).to_be_visible()


def test_plan_edit_by_keyboard_pin_undo_publish_and_bring_back(page: Page, site: Site) -> None:
    """One whole turn of a draft, without touching the mouse for the move."""
    plan_a_week(page, site)
    open_editor(page)
    # Some session has nowhere else to go; the first that has is moved: arrow to a place, Enter to take it.
    editor = page.locator("[data-editor]")
    moved = False
    for position in range(min(page.locator("#week-strip a.session").count(), 12)):
        session = page.locator("#week-strip a.session").nth(position)
        session.focus()
        page.keyboard.press("ArrowRight")
        expect(page.locator("#panel")).to_have_count(1)
        expect(editor).not_to_have_attribute("aria-busy", "true")
        if page.locator("#week-strip .target[data-place]:focus").count():
            page.keyboard.press("Enter")
            moved = True
            break
        page.keyboard.press("Escape")
    assert moved, "no session of the demo week has a second place"
    expect(page.locator(".messages")).to_be_visible()
    page.get_by_role("button", name=re.compile("Undo")).first.click()
    expect(page.locator(".messages")).to_be_visible()
    page.locator("#week-strip a.session").first.click()
    page.get_by_role("button", name="Pin here").click()
    expect(page.locator(".messages")).to_be_visible()
    page.get_by_role("link", name="Compare and publish").click()
    page.get_by_role("button", name=re.compile("Publish")).first.click()
    expect(page.locator("main")).to_contain_text("in force")


def test_take_out_and_place_again_with_the_mouse(page: Page, site: Site) -> None:
    """A session that was taken out stands among the unplaced and can be put back."""
    plan_a_week(page, site)
    open_editor(page)
    before = page.locator("#week-strip a.session").count()
    page.locator("#week-strip a.session").first.click()
    page.get_by_role("button", name="Take out of the week").click()
    expect(page.locator("#week-strip a.session")).to_have_count(before - 1)
    page.get_by_role("button", name=re.compile("Undo")).first.click()
    expect(page.locator("#week-strip a.session")).to_have_count(before)


def test_the_wall_page_is_one_landscape_sheet_without_students(page: Page, site: Site) -> None:
    """Printed for a school office: one page, no names, codes or initials of students."""
    page.goto(f"{site.address}/week/1/print/")
    text = page.locator("main").inner_text()
    students = csv.DictReader(
        io.StringIO((Path(__file__).parents[2] / "fixtures" / "students.csv").read_text(encoding="utf-8"))
    )
    for row in students:
        telling = [key for key in row if re.search(r"name|code", key, re.IGNORECASE)]
        names = [row[key] for key in telling if row[key]]
        assert not [name for name in names[:3] if re.search(rf"\b{re.escape(name)}\b", text)]
    pdf = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
    width, height = map(float, re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)[0])
    assert width > height


def test_one_day_at_a_time_on_a_phone(site: Site, context: BrowserContext, page: Page) -> None:
    """At 390 pixels the day shows and nothing scrolls sideways."""
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(f"{site.address}/week/1/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("link", name=re.compile("^Tue")).first.click()
    expect(page.locator("main")).to_contain_text("Tuesday")


def test_an_office_sees_its_building_and_no_student(context: BrowserContext, site: Site) -> None:
    """The office of one school: no student in the page, no way to the students."""
    page = context.new_page()
    sign_in(page, site, "office")
    page.goto(f"{site.address}/week/1/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Week of")
    assert page.get_by_role("link", name="Students").count() == 0
    answer = page.goto(f"{site.address}/students/")
    assert answer is not None
    assert answer.status in {403, 404}
