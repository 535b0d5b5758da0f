"""Feeds under load: a teacher's year built cold, served warm, and asked with a matching tag, beside bare views.

    python -m benchmarks.feeds [--seconds 5] [--rounds 5]

One gunicorn with one worker serves everything in one run; rounds of each kind alternate, so that a busy machine
slows all of them alike. "Bare" views are Django's cheapest on the same site with the same middleware: one returns a
constant as long as the feed, one an empty 304. Cold is measured in this process against what icalendar itself needs
to build and write the same events. Goals: 304 at least 80 % of the bare view of the feed's size, warm at least
60 %, cold at most 1.2 times icalendar.
"""

import argparse
import base64
import json
import os
import platform
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
HEADERS_END = b"\r\n\r\n"


def _set_up(database: Path) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "benchmarks.feeds_settings"
    os.environ["DATABASE_URL"] = f"sqlite:///{database}"
    os.environ["LOG_LEVEL"] = "WARNING"
    command = [sys.executable, "manage.py", "migrate", "-v0"]
    subprocess.run(command, cwd=ROOT, check=True, env=os.environ)


def prepare(days: int, rounds: int) -> dict[str, Any]:
    """A year in the database; what benchmarks.feeds_year measured, and the path of the feed."""
    command = [sys.executable, "-m", "benchmarks.feeds_year", str(days), str(rounds)]
    done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, env=os.environ)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


class Line:
    """One kept-alive connection, asked again and again with as little work as can be."""

    def __init__(self, port: int, path: str, etag: str = "") -> None:
        extra = f"If-None-Match: {etag}\r\n" if etag else ""
        self.request = f"GET {path} HTTP/1.1\r\nHost: localhost\r\n{extra}\r\n".encode()
        self.socket = socket.create_connection(("127.0.0.1", port))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.buffer = bytearray(4 * 1024 * 1024)

    def ask(self) -> tuple[bytes, int]:
        """The header of the answer and the length of its body."""
        self.socket.sendall(self.request)
        view = memoryview(self.buffer)
        got = 0
        end = -1
        while end < 0:
            got += self.socket.recv_into(view[got:])
            end = self.buffer.find(HEADERS_END, 0, got)
        head = bytes(self.buffer[:end])
        length = 0
        for line in head.split(b"\r\n"):
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        while got < end + 4 + length:
            got += self.socket.recv_into(view[got:])
        return head, length

    def rate(self, seconds: float) -> float:
        """Requests a second."""
        for _ in range(5):
            self.ask()
        count, started = 0, time.perf_counter()
        while time.perf_counter() - started < seconds:
            self.ask()
            count += 1
        return count / (time.perf_counter() - started)


def serve(constant: Path, port: int) -> "subprocess.Popen[bytes]":
    """One gunicorn, one worker, connections kept."""
    command = [
        sys.executable, "-m", "gunicorn", "--workers=1", "--worker-class=gthread", "--threads=2",
        f"--bind=127.0.0.1:{port}", "--keep-alive=30", "--log-level=error", "benchmarks.feeds_site:application",
    ]  # fmt: skip
    process = subprocess.Popen(
        command, cwd=ROOT, env={**os.environ, "FEED_CONSTANT": str(constant)}, start_new_session=True
    )
    for _ in range(200):
        with suppress(OSError), socket.create_connection(("127.0.0.1", port)):
            return process
        time.sleep(0.1)
    raise SystemExit("gunicorn did not start")


def memory(process: "subprocess.Popen[bytes]") -> float:
    """The most that the worker held, in MB (Linux)."""
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    lines = Path(f"/proc/{children[0]}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description="Feeds under load")
    words.add_argument("--seconds", type=float, default=5.0)
    words.add_argument("--rounds", type=int, default=5)
    words.add_argument("--days", type=int, default=180)
    words.add_argument("--port", type=int, default=8791)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as home:
        _set_up(Path(home) / "feeds.sqlite3")
        built = prepare(asked.days, asked.rounds)
        ratio = built["again"] / built["icalendar"]
        print(f"Python {platform.python_version()}, {os.cpu_count()} processors, SQLite")
        print(
            f"{built['events']} events; cold {built['again']:.3f} s (first time, with every item written: "
            f"{built['first']:.3f} s), icalendar alone {built['icalendar']:.3f} s: {ratio:.2f} times "
            f"(first time {built['first'] / built['icalendar']:.2f})"
        )
        path = built["path"]
        constant = Path(home) / "constant.ics"
        constant.write_bytes(base64.b64decode(built["body"]))
        process = serve(constant, asked.port)
        try:
            before = memory(process)
            Line(asked.port, "/bare/").rate(asked.seconds)
            bare_memory = memory(process)
            measured = _rounds(asked, path)
            print(
                f"Worker's memory: {before:.0f} MB at the start, {bare_memory:.0f} MB after the bare view alone, "
                f"{memory(process):.0f} MB at most; the feed has {constant.stat().st_size / 1e6:.2f} MB"
            )
        finally:
            os.killpg(process.pid, signal.SIGTERM)
            process.wait(20)
    bare = measured["bare view, same size"]
    for name, rate in measured.items():
        print(f"{name:28} {rate:8.0f} a second   {rate / bare:6.1%} of the bare view of the same size")
    empty = measured["bare view, empty"]
    print(f"304 against the empty bare view: {measured['304'] / empty:.1%}")
    print(json.dumps({"cold": ratio, "warm": measured["warm"] / bare, "304": measured["304"] / bare}))


def _rounds(asked: argparse.Namespace, path: str) -> dict[str, float]:
    """The median rate of each kind."""
    first, _ = Line(asked.port, path).ask()
    etag = next(line for line in first.decode().split("\r\n") if line.lower().startswith("etag:")).split(": ", 1)[1]
    lines: dict[str, Callable[[], Line]] = {
        "bare view, same size": lambda: Line(asked.port, "/bare/"),
        "warm": lambda: Line(asked.port, path),
        "304": lambda: Line(asked.port, path, etag),
        "bare view, empty": lambda: Line(asked.port, "/bare-empty/"),
    }
    rates: dict[str, list[float]] = {name: [] for name in lines}
    for _ in range(asked.rounds):
        for name, connect in lines.items():
            rates[name].append(connect().rate(asked.seconds))
    return {name: statistics.median(found) for name, found in rates.items()}


if __name__ == "__main__":
    main()
