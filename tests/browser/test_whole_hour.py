"""A whole class hour on a phone, by one thumb: a caution met, an aide missing, a student late, and the hour run."""

import json
import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import PHONE, Site, sign_in
from tests.browser.whole_hour import AIDE

pytestmark = pytest.mark.browser
LATE, CAUTIOUS, CALM = "Amara Oyelaran", "Mateo Quispera", "Linh Tranmere"
NOISY, STAFFED = "Ramp and pins", "Frog spots"
SEARCHED = 60_000
"""Milliseconds for a page that is shown after a search."""

TAP = 44
"""Pixels: WCAG 2.2, success criterion 2.5.5 Target Size (Enhanced)."""

OUT_OF_REACH = """() => [...document.querySelectorAll(
  "main a[href], main button, main select, main textarea, main input:not([type=hidden]), main summary")]
  .filter((one) => one.checkVisibility())
  .map((one) => one.closest("label") || one)
  .map((one) => [one.innerText || one.name, one.getBoundingClientRect()])
  .filter(([, box]) => box.height > 1 && (box.height < TAP || box.left < 0 || box.right > innerWidth))
  .map(([text, box]) => `${text.trim().slice(0, 30)}: ${Math.round(box.height)} px`)"""


def out_of_reach(page: Page) -> list[str]:
    """Whatever on the page can be tapped and is lower than 44 pixels, or not on the screen."""
    found: list[str] = page.evaluate(OUT_OF_REACH.replace("TAP", str(TAP)))
    return [f"{page.url}: {one}" for one in found]


@pytest.fixture
def phone(chromium: Browser, site: Site) -> Iterator[Page]:
    """The teacher's, signed in, at a clock of its own."""
    context = chromium.new_context(viewport=PHONE, timezone_id="America/New_York", has_touch=True)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, "teacher")
    yield page
    context.close()


def round_of(page: Page, number: int) -> Locator:
    """One round with its stations."""
    return page.locator(f"#round-{number}")


def at_station(page: Page, name: str) -> Locator:
    """A station in every round."""
    return page.locator(".turns .places > div").filter(has=page.locator("dt", has_text=name))


def test_a_class_hour_with_an_aide_missing_and_a_student_late(phone: Page, site: Site) -> None:
    told = site.manage("shell", "-c", "from tests.browser.whole_hour import make_whole_hour; make_whole_hour()")
    hour = json.loads(told.splitlines()[-1])
    page, found = phone, []
    page.clock.install(time=f"{hour['date']}T{hour['start']}-05:00")

    # From the day to the stations: the caution is said before anything is worked out, and kept.
    page.goto(f"{site.address}/day/{hour['date']}/")
    page.locator(f"a[href='/sessions/{hour['session']}/stations/']").tap()
    page.get_by_role("link", name=re.compile("^Set up today")).tap()
    expect(page.get_by_role("checkbox", name=f"{CAUTIOUS} at {NOISY}")).not_to_be_checked()
    found += out_of_reach(page)
    page.get_by_label(AIDE).select_option(f"Stands at {STAFFED}")
    # Whatever the class had last: these two stand today.
    page.get_by_label(STAFFED, exact=True).select_option("Place 4")
    page.get_by_label(NOISY, exact=True).select_option("Place 5")
    page.get_by_role("button", name="Work out who is where").tap()
    expect(page.get_by_text("Ask before this activity:")).to_be_visible(timeout=SEARCHED)
    expect(round_of(page, 1)).to_be_visible()
    expect(at_station(page, NOISY).filter(has_text=CAUTIOUS)).to_have_count(0)
    expect(at_station(page, STAFFED).filter(has_text=AIDE)).not_to_have_count(0)
    expect(round_of(page, 1)).to_contain_text(LATE)
    found += out_of_reach(page)

    # This morning: the aide is missing, and somebody comes for the second round.
    page.get_by_role("link", name="Somebody is missing or late").tap()
    page.get_by_label(AIDE).select_option("Not here")
    page.get_by_label(LATE, exact=True).select_option("Comes for round 2")
    page.get_by_role("button", name="Change as little as possible").tap()
    expect(page.get_by_text("against the version before")).to_be_visible(timeout=SEARCHED)
    expect(round_of(page, 1)).not_to_contain_text(LATE)
    expect(round_of(page, 2)).to_contain_text(LATE)
    # Nobody is where an adult is needed and none is.
    expect(at_station(page, STAFFED).locator(".who")).to_have_count(0)
    expect(at_station(page, NOISY).filter(has_text=CAUTIOUS)).to_have_count(0)

    # The other way around: what was changed is taken back, and then used again.
    page.get_by_role("button", name="Take version 2 back").tap()
    expect(round_of(page, 1)).to_contain_text(LATE)
    page.get_by_role("button", name="Use again what was taken back").tap()
    expect(round_of(page, 1)).not_to_contain_text(LATE)

    # The hour runs by its short clock, with who is where beside it.
    page.goto(f"{site.address}/class-hour/{hour['date']}/{hour['session']}/run/")
    titles = page.locator("[data-part] h3")
    expect(titles).not_to_have_count(0)
    names = titles.all_inner_texts()
    expect(page.locator("#run-part")).to_have_text(names[0])
    page.locator("summary", has_text="Who is at which station").tap()
    expect(page.locator(".turns-compact").get_by_text("Round 2")).to_be_visible()
    found += out_of_reach(page)
    for name in names[1:]:
        page.clock.run_for(20_000)
        page.get_by_role("button", name="Go on now").tap()
        expect(page.locator("#run-part")).to_have_text(name)
    page.clock.fast_forward(3_600_000)
    expect(page.locator("#run-part")).to_have_text("The class hour is over")
    found += out_of_reach(page)
    assert found == []
