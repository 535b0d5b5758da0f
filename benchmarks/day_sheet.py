"""The day sheet on a slow phone with a slow line: first view, bytes, the running view, and a long queue.

    python -m benchmarks.day_sheet [--entries 500] [--only views|queue|running]

Debian's Chromium at phone size. The page's processor is slowed four times over the browser's own protocol
(Emulation.setCPUThrottlingRate); the line is a proxy in this process with the figures of "slow 4G" that Lighthouse
publishes (docs/throttling.md of GoogleChrome/lighthouse): 150 ms there and back, 1.6 Mbit/s down, 750 kbit/s up. It
holds for the page and for its worker alike, which the browser's own throttling of a page leaves out; the worker's
processor isn't slowed. The server is waitress with SQLite on this machine, which may be busy: so the processor's
time of the server and of scripts stands beside each time by the clock, and the bytes, which are the same anywhere.

Goals: Today from the phone's store within 300 ms and from the server within 1 s, at most 120 KB with scripts, no
fonts, the running view below 2 % of one core, 500 entries within 10 s and none doubled.
"""

import argparse
import asyncio
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from tests.browser.conftest import PHONE, ROOT, Site, chromium_path, empty_site, sign_in, wait_until_up  # noqa: E402 -- the models it imports need the set-up above
from tests.browser.offline_day import ROUTINE  # noqa: E402 -- the models it imports need the set-up above
from tests.browser.phone_day import TEACHER  # noqa: E402 -- the models it imports need the set-up above
from tests.browser.today import DRIVER  # noqa: E402 -- the models it imports need the set-up above
from tests.databases import migrated_file  # noqa: E402 -- as above
from tests.services import free_port  # noqa: E402 -- the models it imports need the set-up above

ROUND_TRIP, DOWN, UP = 0.150, 1_600_000, 750_000
"""Seconds, and bits a second."""
SLOWER = 4
RUNNING = 30
WAIT = 600_000


class Line:
    """A proxy with so much delay and width, shared by all connections; `down` means no signal."""

    def __init__(self, target: int) -> None:
        self.target, self.port, self.down = target, free_port(), False
        self.bytes = {"up": 0, "down": 0}
        self._free = {"up": 0.0, "down": 0.0}
        self._loop = asyncio.new_event_loop()
        threading.Thread(target=self._loop.run_forever, daemon=True).start()
        asyncio.run_coroutine_threadsafe(
            asyncio.start_server(self._serve, "127.0.0.1", self.port), self._loop
        ).result()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self.down:
            writer.close()
            return
        await asyncio.sleep(ROUND_TRIP)  # the handshake
        try:
            there_reader, there = await asyncio.open_connection("127.0.0.1", self.target)
        except ConnectionError:
            writer.close()
            return
        await asyncio.gather(self._carry(reader, there, "up", UP), self._carry(there_reader, writer, "down", DOWN))

    async def _carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, way: str, rate: int) -> None:
        loop = asyncio.get_running_loop()
        try:
            while data := await reader.read(8192):
                self.bytes[way] += len(data)
                self._free[way] = max(loop.time(), self._free[way]) + len(data) * 8 / rate
                loop.call_at(self._free[way] + ROUND_TRIP / 2, _write, writer, data)
        except ConnectionError:
            pass
        loop.call_at(max(loop.time(), self._free[way]) + ROUND_TRIP / 2 + 0.01, writer.close)


def _write(writer: asyncio.StreamWriter, data: bytes) -> None:
    if not writer.is_closing():
        writer.write(data)


class Server:
    """A site, its process and the line to it."""

    def __init__(self, site: Site) -> None:
        port = int(site.address.rpartition(":")[2])
        command = [
            sys.executable,
            "-m",
            "waitress",
            f"--listen=127.0.0.1:{port}",
            "--threads=4",
            "config.wsgi:application",
        ]
        self.process = subprocess.Popen(command, cwd=ROOT, env=site.environment)
        wait_until_up(site.address, self.process)
        self.line = Line(port)
        self.far = Site(f"http://127.0.0.1:{self.line.port}", site.password, site.environment)

    def seconds(self) -> float:
        """Of a processor that the server has used so far (Linux)."""
        told = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def served(folder: Path, prepare: str) -> Iterator[tuple[Server, str]]:
    """A server on a database of its own, and what preparing it printed."""
    folder.mkdir()
    kept = ROOT / ".pytest_cache" / "d" / "tables"  # where the tests keep theirs
    kept.mkdir(parents=True, exist_ok=True)
    tables = migrated_file(kept)
    site = empty_site(folder, tables)
    told = site.manage("shell", "-c", prepare)
    server = Server(site)
    try:
        yield server, told.splitlines()[-1] if told.strip() else ""
    finally:
        server.process.terminate()
        server.process.wait(timeout=20)


def slowed(page: Page, rate: int = SLOWER) -> Any:
    """The page's processor slowed; the session for asking more."""
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    session.send("Performance.enable")
    return session


def metric(session: Any, name: str) -> float:
    """One of Performance.getMetrics, in seconds."""
    found = session.send("Performance.getMetrics")["metrics"]
    return next(float(one["value"]) for one in found if one["name"] == name)


PAINTED = """() => new Promise((done) => new PerformanceObserver((list) => {
    for (const one of list.getEntries()) if (one.name === "first-contentful-paint") done(one.startTime);
}).observe({ type: "paint", buffered: true }))"""


def first_view(
    context: BrowserContext, address: str, times: int, before: Callable[[], object] = lambda: None
) -> list[float]:
    """Milliseconds from asking for the page to its first content, each time in a new page."""
    found = []
    for _ in range(times):
        before()
        page = context.new_page()
        slowed(page)
        page.goto(address, wait_until="commit", timeout=WAIT)
        found.append(float(page.evaluate(PAINTED)))
        page.close()
    return found


def phone_of(browser: Browser, **more: Any) -> BrowserContext:
    """A phone that has never been here."""
    told: dict[str, Any] = {"viewport": PHONE, "has_touch": True, "is_mobile": True}
    context = browser.new_context(timezone_id="America/New_York", **told, **more)
    context.set_default_timeout(WAIT)
    return context


KEPT = """() => new Promise((done) => {
    const look = async () => ((await phoneStore.about.get("phone-kept")) ? done() : setTimeout(look, 200));
    look();
})"""


def views(browser: Browser, server: Server, rows: "Table") -> None:
    """Today from the server and from the store, and what of it came over the line."""
    site = server.far
    cold = phone_of(browser, service_workers="block")
    sign_in(cold.new_page(), site, TEACHER)
    cold.close()
    seen: list[dict[str, Any]] = []
    cold = phone_of(browser, service_workers="block")
    page = cold.new_page()
    sign_in(page, site, TEACHER)
    session = cold.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.clearBrowserCache")
    kinds: dict[str, str] = {}
    session.on("Network.responseReceived", lambda told: kinds.update({told["requestId"]: told["type"]}))

    def note(told: dict[str, Any]) -> None:
        seen.append(told)

    session.on("Network.loadingFinished", note)
    page.goto(f"{site.address}/day/", wait_until="networkidle", timeout=WAIT)
    by_kind: dict[str, int] = {}
    for one in seen:
        kind = kinds.get(one["requestId"], "Other")
        by_kind[kind] = by_kind.get(kind, 0) + int(one["encodedDataLength"])
    total = sum(by_kind.values()) / 1024
    rows.add("bytes of Today on a phone that has nothing", f"{total:.0f} KB", "120 KB", total <= 120)
    rows.note(", ".join(f"{kind.lower()} {size / 1024:.1f} KB" for kind, size in sorted(by_kind.items())))
    rows.add("fonts", str(by_kind.get("Font", 0)), "none", "Font" not in by_kind)
    fresh = first_view(cold, f"{site.address}/day/", 3, lambda: session.send("Network.clearBrowserCache"))
    rows.add("Today, a phone that has nothing, from the server", f"{statistics.median(fresh):.0f} ms", "", None)
    cold.close()
    phone = phone_of(browser)
    page = phone.new_page()
    sign_in(page, site, TEACHER)
    page.goto(f"{site.address}/day/", timeout=WAIT)
    page.evaluate(KEPT)
    used = server.seconds()
    warm = first_view(phone, f"{site.address}/day/", 5)
    rows.add(
        "Today from the server", f"{statistics.median(warm):.0f} ms", "1000 ms", statistics.median(warm) < 1000
    )
    rows.note(
        f"of the server's processor {(server.seconds() - used) / 5 * 1000:.0f} ms each, with what comes later"
    )
    phone.set_offline(True)
    server.line.down = True
    stored = first_view(phone, f"{site.address}/day/", 5)
    server.line.down = False
    rows.add(
        "Today from the phone's store",
        f"{statistics.median(stored):.0f} ms",
        "300 ms",
        statistics.median(stored) < 300,
    )
    rows.note("each: " + ", ".join(f"{one:.0f}" for one in stored))
    phone.close()


SHIFT = """(() => {
    const shift = SHIFT, Real = Date;
    self.Date = class extends Real {
        constructor(...told) { if (told.length) super(...told); else super(Real.now() + shift); }
        static now() { return Real.now() + shift; }
    };
})()"""


def running(browser: Browser, server: Server, rows: "Table") -> None:
    """The running view while a session runs: it begins at 10:00."""
    phone = phone_of(browser)
    page = phone.new_page()
    sign_in(page, server.far, DRIVER)
    now = page.evaluate("() => { const now = new Date(); return now.getHours() * 60 + now.getMinutes(); }")
    phone.add_init_script(SHIFT.replace("SHIFT", str((10 * 60 + 4 - now) * 60_000)))
    page.goto(f"{server.far.address}/day/", timeout=WAIT)
    page.get_by_role("link", name="Run it").click()
    page.wait_for_url("**/run/")
    page.get_by_text(ROUTINE).first.wait_for(state="attached")
    page.evaluate("phonePage.started")
    for rate in (1, SLOWER):
        session = slowed(page, rate)
        page.wait_for_timeout(5000)
        before = metric(session, "TaskDuration")
        page.wait_for_timeout(RUNNING * 1000)
        part = (metric(session, "TaskDuration") - before) / RUNNING * 100
        words = "processor as it is" if rate == 1 else f"processor slowed {rate} times"
        rows.add(f"the running view, {words}, of one core", f"{part:.2f} %", "2 %", part < 2)
        session.detach()
    phone.close()


SEND = """async () => {
    const began = performance.now();
    await phoneQueue.flush();
    return [performance.now() - began, await phoneStore.queue.count(), phoneQueue.held()];
}"""


def queue(browser: Browser, server: Server, entries: list[dict[str, Any]], words: str, rows: "Table") -> None:
    """Entries that wait, and how long it takes until the server has them."""
    phone = phone_of(browser)
    page = phone.new_page()
    sign_in(page, server.far, TEACHER)
    page.goto(f"{server.far.address}/day/", timeout=WAIT)
    page.evaluate("phoneQueue.ready.then(() => phonePage.started)")
    page.evaluate("phoneStore.about.put('phone-keeping', false)")
    page.evaluate("async (all) => { for (const one of all) await phoneQueue.add(one); }", entries)
    session = slowed(page)
    used, script, sent = server.seconds(), metric(session, "ScriptDuration"), dict(server.line.bytes)
    took, left, held = page.evaluate(SEND)
    rows.add(f"{len(entries)} entries sent: {words}", f"{took / 1000:.1f} s", "10 s", took < 10_000 and not left)
    up, down = (server.line.bytes[way] - sent[way] for way in ("up", "down"))
    rows.note(
        f"of the server's processor {server.seconds() - used:.1f} s, of the page's scripts "
        f"{metric(session, 'ScriptDuration') - script:.1f} s, {up / 1024:.0f} KB up, {down / 1024:.0f} KB down; "
        f"left {left}{f' ({held})' if held else ''}"
    )
    phone.close()


class Table:
    """What was measured, beside what was wanted."""

    def add(self, what: str, value: str, goal: str, met: bool | None) -> None:
        """One figure."""
        said = {True: "met", False: "NOT met", None: ""}[met]
        sys.stdout.write(f"{what:<62} {value:>9}  {f'goal {goal}' if goal else '':<14} {said}\n")
        sys.stdout.flush()

    def note(self, words: str) -> None:
        """What stands behind it."""
        sys.stdout.write(f"    {words}\n")


def sent(browser: Browser, server: Server, entries: list[dict[str, Any]], count: int, rows: "Table") -> None:
    """A queue as full days leave it, what the server has of it, and one of data on goals alone."""
    mixed = entries[:count]
    queue(browser, server, mixed, "26 a day, as on a full day", rows)
    told = server.far.manage("shell", "-c", "from benchmarks.day_sheet_days import counts; counts()")
    stands = json.loads(told.splitlines()[-1])
    meant = {"logs": "log", "data": "data", "taps": "drive"}
    wanted = {name: sum(one["kind"] == kind for one in mixed) for name, kind in meant.items()}
    off = sum(abs(stands[name] - wanted[name]) for name in meant)
    rows.add("doubled or missing on the server", str(off), "none", stands == wanted)
    point = next(one for one in entries if one["kind"] == "data")
    alone = [_another(point, number) for number in range(count)]
    queue(browser, server, alone, "data on goals alone", rows)


PARTS = ("views", "queue", "running")


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description="The day sheet on a slow phone")
    words.add_argument("--entries", type=int, default=500)
    words.add_argument("--only", choices=PARTS, action="append")
    asked = words.parse_args()
    parts = asked.only or PARTS
    rows = Table()
    sys.stdout.write(f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start\n")
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        told = ["--no-sandbox", "--disable-gpu"]
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=told)
        if {"views", "queue"} & set(parts):
            days = "from benchmarks.day_sheet_days import make_days; make_days()"
            with served(Path(home) / "days", days) as (server, printed):
                if "views" in parts:
                    views(browser, server, rows)
                if "queue" in parts:
                    sent(browser, server, json.loads(printed), asked.entries, rows)
        if "running" in parts:
            make = "from tests.browser.offline_day import make_offline_day; make_offline_day()"
            with served(Path(home) / "hour", make) as (server, _):
                running(browser, server, rows)
        browser.close()
    sys.stdout.write(f"load {os.getloadavg()[0]:.1f} at the end\n")


def _another(point: dict[str, Any], number: int) -> dict[str, Any]:
    key = f"00000000-0000-4000-8000-{number:012d}"
    return {
        **point,
        "key": key,
        "about": key,
        "body": {**point["body"], "client_id": key, "value": str(number % 9)},
    }


if __name__ == "__main__":
    main()
