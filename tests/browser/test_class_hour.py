"""A class hour at phone size, by a clock that the test sets: early, longer, taken back, without a network."""

import datetime as dt
import random
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from schedule.class_hour.fitting import TimedPart, WhenShort, fit_parts
from tests.browser.conftest import PHONE, Site, sign_in
from tests.conftest import date_there

pytestmark = pytest.mark.browser
SCRIPT = Path(__file__).resolve().parents[2] / "schedule/static/schedule/class-hour.js"
CASES = 400


def test_the_script_fits_parts_by_the_same_rules(chromium: Browser) -> None:
    """Whatever the routine: 400 by chance, seeded, also in what they need at least and on a usual day."""
    chance = random.Random(14)  # noqa: S311 -- test data
    wanted, asked = [], []
    for _ in range(CASES):
        rows = [sorted(chance.choices(range(1, 25), k=2)) for _ in range(chance.randint(1, 9))]
        parts = [
            TimedPart(at, usual, least, chance.choice(list(WhenShort))) for at, (least, usual) in enumerate(rows)
        ]
        least, usual = sum(part.least for part in parts), sum(part.minutes for part in parts)
        length = chance.choice([least, usual, chance.randint(0, usual + 20)])
        fit = fit_parts(parts, 60, 60 + length)
        wanted.append([[[one.key, one.start, one.end] for one in fit.times], list(fit.out)])
        sent = [{"key": p.key, "usual": p.minutes, "least": p.least, "short": p.when_short} for p in parts]
        asked.append([sent, length])
    page = chromium.new_page()
    page.add_script_tag(path=SCRIPT)
    found = page.evaluate(
        """cases => cases.map(([parts, length]) => {
            const fit = window.classHourFit(parts, 60, 60 + length);
            return [fit.times.map(one => [one.key, one.start, one.end]), fit.out];
        })""",
        asked,
    )
    page.close()
    assert found == wanted


def first_run(page: Page, site: Site) -> str:
    """The address of the week's first running view, by the links of the days."""
    page.goto(f"{site.address}/week/")
    days = sorted(set(re.findall(r"/day/(\d{4}-\d{2}-\d{2})/", page.content())))
    monday = dt.date.fromisoformat(days[0]) if days else date_there()
    monday -= dt.timedelta(days=monday.weekday())
    for offset in range(12):
        page.goto(f"{site.address}/day/{monday + dt.timedelta(days=offset)}/")
        links = page.locator("a[href$='/run/']").evaluate_all("all => all.map(one => one.getAttribute('href'))")
        for link in dict.fromkeys(links):
            page.goto(site.address + link)
            if page.locator("[data-part]").count():
                return str(link)
    pytest.fail("no session of the demo has a routine")


def clock_of(page: Page, at: int) -> str:
    """When a part is on, as the list of all parts says it."""
    return page.locator("[data-part] .at").nth(at).inner_text()


def minutes(text: str) -> tuple[int, int]:
    """Both times of a part in minutes."""
    first, last = re.findall(r"(\d+):(\d+)", text)
    return int(first[0]) * 60 + int(first[1]), int(last[0]) * 60 + int(last[1])


def test_an_hour_runs_by_one_thumb_without_a_network(chromium: Browser, site: Site) -> None:
    """It begins at its time, goes on early, stays longer, takes a tap back, and is the same after loading again."""
    context = chromium.new_context(viewport=PHONE, timezone_id="America/New_York")  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, "teacher")
    path = first_run(page, site)
    date = re.findall(r"\d{4}-\d{2}-\d{2}", path)[0]
    page.goto(site.address + path)
    # The first part's clock, with the afternoon's hours past noon.
    start, end = minutes(clock_of(page, 0))
    start, end = (start + 720, end + 720) if start < 7 * 60 else (start, end)
    titles = page.locator("[data-part] h3").all_inner_texts()
    page.clock.install(time=f"{date}T{start // 60:02d}:{start % 60:02d}:00-05:00")
    page.goto(site.address + path)
    context.set_offline(True)
    now, left = page.locator("#run-part"), page.locator("#run-left")
    expect(now).to_have_text(titles[0])
    expect(left).to_have_text(re.compile(rf"^({end - start}:00|{end - start - 1}:5\d)$"))
    expect(page.locator("#run-next")).to_contain_text(titles[1])
    before = clock_of(page, 1)

    page.clock.run_for(30_000)
    page.get_by_role("button", name="1 more minute").click()
    assert minutes(clock_of(page, 1))[0] == minutes(before)[0] + 1
    page.get_by_role("button", name="Take the last tap back").click()
    assert clock_of(page, 1) == before

    page.get_by_role("button", name="Go on now").click()
    expect(now).to_have_text(titles[1])
    page.get_by_role("button", name="Go on now").click()
    expect(now).to_have_text(titles[2])
    shown = clock_of(page, 2)

    for button in page.locator(".run-taps button").locator("visible=true").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= PHONE["width"]
        assert box["y"] > PHONE["height"] / 2

    context.set_offline(False)
    page.reload()
    expect(now).to_have_text(titles[2])
    assert clock_of(page, 2) == shown
    # Each timer once: an hour of looking for what others tapped, all at one moment, keeps the server for minutes.
    page.clock.fast_forward(3 * 3_600_000)
    expect(now).to_have_text("The class hour is over")
    context.close()
