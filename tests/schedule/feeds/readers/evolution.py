"""Subscribes to an address with Evolution's calendar backend and tells what it holds: run by the system's Python.

Usage: evolution.py ADDRESS. For each line on standard input it fetches again, waits until what it holds is another
than before (or has been there for the seconds that the line says), and prints the events as one line of JSON.
"""

import json
import sys
import time
from typing import Any
from urllib.parse import urlsplit

import gi

gi.require_version("EDataServer", "1.2")
gi.require_version("ECal", "2.0")
from gi.repository import ECal, EDataServer  # noqa: E402 -- versions are chosen first

LOOK_AGAIN = 0.25
DO_NOT_WAIT = 2**32 - 1


def subscribe(address: str) -> Any:
    """A calendar on the web as a source of its own, and the client that reads it."""
    registry = EDataServer.SourceRegistry.new_sync(None)
    source = EDataServer.Source.new_with_uid("school", None)
    source.set_display_name("School")
    source.set_parent("webcal-stub")
    source.get_extension(EDataServer.SOURCE_EXTENSION_CALENDAR).set_backend_name("webcal")
    parts = urlsplit(address)
    web = source.get_extension(EDataServer.SOURCE_EXTENSION_WEBDAV_BACKEND)
    web.set_resource_path(parts.path)
    place = source.get_extension(EDataServer.SOURCE_EXTENSION_AUTHENTICATION)
    place.set_host(parts.hostname)
    place.set_port(parts.port)
    place.set_method("none")
    source.get_extension(EDataServer.SOURCE_EXTENSION_SECURITY).set_method("none")
    registry.commit_source_sync(source, None)
    kept = registry.ref_source("school")
    return ECal.Client.connect_sync(kept, ECal.ClientSourceType.EVENTS, DO_NOT_WAIT, None)


def events(client: Any) -> list[str]:
    """What the backend holds, each event as iCalendar text."""
    _, found = client.get_object_list_sync("#t", None)
    return sorted(one.as_ical_string() for one in found)


def main() -> None:
    """Fetch whenever a line is read."""
    client = subscribe(sys.argv[1])
    before: list[str] = []
    for line in sys.stdin:
        end = time.monotonic() + float(line)
        client.refresh_sync(None)
        now = events(client)
        while now == before and time.monotonic() < end:
            time.sleep(LOOK_AGAIN)
            now = events(client)
        before = now
        print(json.dumps(now), flush=True)  # noqa: T201 -- read by the test


if __name__ == "__main__":
    main()
