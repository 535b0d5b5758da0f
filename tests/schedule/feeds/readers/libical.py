"""Reads a calendar from standard input with libical, checks its restrictions, prints JSON (Debian's Python)."""

import json
import sys

import gi

gi.require_version("ICalGLib", "3.0")
from gi.repository import ICalGLib  # noqa: E402 -- the version must be asked for first


def problems(component: "ICalGLib.Component") -> list[str]:
    """What libical noted at a component and below."""
    found = []
    one = component.get_first_property(ICalGLib.PropertyKind.XLICERROR_PROPERTY)
    while one is not None:
        found.append(one.get_value_as_string())
        one = component.get_next_property(ICalGLib.PropertyKind.XLICERROR_PROPERTY)
    inner = component.get_first_component(ICalGLib.ComponentKind.ANY_COMPONENT)
    while inner is not None:
        found.extend(problems(inner))
        inner = component.get_next_component(ICalGLib.ComponentKind.ANY_COMPONENT)
    return found


def moment(time: "ICalGLib.Time") -> str:
    """A date, or a time in UTC."""
    if time.is_date():
        return f"{time.get_year():04}-{time.get_month():02}-{time.get_day():02}"
    utc = time.convert_to_zone(ICalGLib.Timezone.get_utc_timezone())
    return (
        f"{utc.get_year():04}-{utc.get_month():02}-{utc.get_day():02}T"
        f"{utc.get_hour():02}:{utc.get_minute():02}:{utc.get_second():02}"
    )


def main() -> None:
    """Parse, check, print."""
    calendar = ICalGLib.Component.new_from_string(sys.stdin.buffer.read().decode())
    holds = bool(calendar.check_restrictions())
    events = []
    event = calendar.get_first_component(ICalGLib.ComponentKind.VEVENT_COMPONENT)
    while event is not None:
        events.append(
            [
                event.get_uid(),
                moment(event.get_dtstart()),
                moment(event.get_dtend()),
                event.get_summary(),
                event.get_location() or "",
            ]
        )
        event = calendar.get_next_component(ICalGLib.ComponentKind.VEVENT_COMPONENT)
    json.dump({"holds": holds, "problems": problems(calendar), "events": events}, sys.stdout)


main()
