"""What a district's people see of it, printed by a process of its own.

With ``feed`` a teacher's calendar feed is made, and its address printed; with that address the figures are, among
them what the feed gives.
"""

import hashlib
import json
import sys
from importlib import import_module

import django

SITE = "https://plan.example.org"
DISTRICT = "Marrow Vale County"


def main(words: list[str]) -> None:
    """Print an address or figures. Models can be had only once Django is set up."""
    django.setup()
    if words == ["feed"]:
        teacher = import_module("accounts.models").Person.objects.get(username="teacher")
        add = import_module("schedule.feeds.services.feeds").feed_add
        _feed, address = add(actor=teacher, kind="teacher", values={"label": "Wall"}, site=SITE)
        sys.stdout.write(address)
        return
    sys.stdout.write(json.dumps({**ledger(), **weeks(), **miles(), "feed": feed(words[0])}))


def ledger() -> dict[str, object]:
    """Minutes owed and delivered of every service, as of the last day that was logged."""
    students = import_module("caseload.plans.models").Student.objects
    entries = import_module("caseload.delivery.models").DeliveryEntry.objects
    rows = list(students.filter(district__name=DISTRICT).select_related("building__district").order_by("pk"))
    last = entries.order_by("-date").values_list("date", flat=True)[0]
    found = import_module("schedule.log.selectors.ledger").ledgers_of(rows[0].district, rows, last)
    minutes = [
        [student.code, one.line.pk, one.figures.owed, one.figures.delivered]
        for student, told in zip(rows, found, strict=True)
        for one in told.lines
    ]
    return {"minutes": minutes}


def weeks() -> dict[str, object]:
    """Every session of a week in force."""
    sessions = import_module("schedule.weeks.models").PlannedSession.objects
    rows = sessions.filter(week__status="published", week__district__name=DISTRICT)
    names = ("week__teacher__username", "date", "start", "end", "building__code", "attendees__student__code")
    return {"sessions": sorted([str(part) for part in row] for row in rows.values_list(*names))}


def miles() -> dict[str, object]:
    """What each confirmed trip claims by the rules of its day."""
    district = import_module("accounts.models").District.objects.get(name=DISTRICT)
    claims = import_module("travel.mileage.selectors").trip_claims(district)
    return {"claims": sorted([pk, str(one)] for pk, one in claims.items())}


def feed(address: str) -> list[str]:
    """Tag and digest of a calendar as a phone fetches it."""
    answer = import_module("django.test").Client().get(address.removeprefix(SITE), headers={"host": "localhost"})
    return [str(answer.status_code), answer.headers["ETag"], hashlib.sha256(answer.content).hexdigest()]


if __name__ == "__main__":
    main(sys.argv[1:])
