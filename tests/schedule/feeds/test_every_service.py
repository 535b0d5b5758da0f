"""Whatever a service changes that a feed shows is in the next fetch: its ETag is another (RFC 9110 section 8.8.3).

Two walks: over the services, each changing one thing; and over the source, for writes that send no signal.
"""

import ast
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from django.test import Client

from accounts.district.services import district_save
from accounts.models import Substitution
from accounts.people.services import (
    person_active_set,
    person_save,
    person_with_offices_save,
    substitution_delete,
    substitution_save,
)
from caseload.plans.models import SchoolClass
from caseload.plans.services import school_class_save, service_line_save, student_save
from schedule.calendar.models import CalendarEntry, CalendarSource
from schedule.calendar.services.records import calendar_entry_delete, calendar_entry_save
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_options_save
from schedule.happenings.services.saying import happening_say
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview
from schedule.imports.services.calendar_sources import source_read, source_save
from schedule.imports.services.tables import import_commit, import_preview, import_undo
from schedule.weeks.models import PlannedSession
from schedule.weeks.services.weeks import week_publish, week_restore
from tests.answering_server import server_that
from tests.schedule.builders import date, make_week
from tests.schedule.feeds.conftest import SITE, Ground
from tests.schedule.imports.test_calendar_import import calendar, day
from travel.places.services import building_save, space_save

ROOT = Path(__file__).resolve().parents[3]
type Change = Callable[[Ground], object]


def tag(address: str) -> tuple[int, str]:
    """Status and ETag of the feed now."""
    answer = Client().get(address.removeprefix(SITE))
    return answer.status_code, answer.headers.get("ETag", "")


def is_emptied(address: str) -> bool:
    """Whether it answers, with a calendar in which nothing is."""
    answer = Client().get(address.removeprefix(SITE))
    return answer.status_code == 200 and b"BEGIN:VEVENT" not in answer.content


def _building(ground: Ground, **values: object) -> object:
    return building_save(actor=ground.cast.coordinator, row=ground.cast.north, values=values)


def _person(ground: Ground, **values: object) -> object:
    return person_save(actor=ground.cast.coordinator, row=ground.cast.teacher, values=values)


def _space(ground: Ground) -> object:
    PlannedSession.objects.filter(building=ground.cast.north).update(space=ground.cast.gym)
    return space_save(actor=ground.cast.coordinator, row=ground.cast.gym, values={"name": "Old gym"})


def _entry(ground: Ground) -> CalendarEntry:
    values = {"first_date": date(3), "last_date": date(3)}
    row = CalendarEntry(kind="closed", title="Burst pipe")
    return calendar_entry_save(actor=ground.cast.coordinator, row=row, values=values)


def _calendar_import(ground: Ground) -> ImportBatch:
    batch = calendar_preview(
        actor=ground.cast.coordinator, filename="a.ics", content=calendar(day("20260917", "School closed")),
        first=date(-20), last=date(200),
    )  # fmt: skip
    return calendar_commit(actor=ground.cast.coordinator, batch=batch, kinds=["closed"])


def _calendar_by_address(ground: Ground) -> object:
    with server_that(lambda *_: (200, calendar(day("20260917", "School closed")))) as site:
        values = {"title": "Website", "address": f"{site}/a.ics", "applies_alone": True}
        row = source_save(actor=ground.cast.coordinator, row=CalendarSource(), values=values)
        assert source_read(row=row, allowed=bool)
    return row


def _buildings_import(ground: Ground) -> ImportBatch:
    table = b"Building code,Name,Address\r\nNORTH,Another name,1 Mill Lane\r\n"
    batch = import_preview(actor=ground.cast.coordinator, kind="buildings", filename="a.csv", content=table)
    return import_commit(actor=ground.cast.coordinator, batch=batch)


def _move(ground: Ground) -> None:
    ground.move(ground.session(date(0), "9:20"), date(0), "8:30")


def _remove(ground: Ground) -> None:
    ground.remove(ground.session(date(2), "9:20"))


def _another_week(ground: Ground) -> object:
    monday = date(7)
    own = f"line-{ground.cast.line.pk}"
    week = make_week(ground.cast, [(own, monday, "9:20"), (own, date(9), "9:20")], monday=monday)
    return week_publish(actor=ground.cast.teacher, week=week, expected_revision=week.revision)


def _hand_over(ground: Ground) -> object:
    cast = ground.cast
    service_line_save(actor=cast.coordinator, row=cast.line, values={"provider": cast.mate})
    return student_save(actor=cast.coordinator, row=cast.student, values={"caseload_teacher": cast.mate})


CHANGES: dict[str, Change] = {
    "building renamed": lambda ground: _building(ground, name="North Ridge School"),
    "building's address": lambda ground: _building(ground, address="9 Mill Lane"),
    "building's place": lambda ground: _building(ground, latitude="43.2", longitude="-75.3"),
    "building's zone": lambda ground: _building(ground, time_zone="Africa/Casablanca"),
    "space renamed": _space,
    "teacher renamed": lambda ground: _person(ground, last_name="Marsh"),
    "student's code": lambda ground: student_save(
        actor=ground.cast.teacher, row=ground.cast.student, values={"code": "S99"}
    ),
    "student to another caseload": _hand_over,
    "district's zone": lambda ground: district_save(
        actor=ground.cast.coordinator, values={"time_zone": "America/Chicago"}
    ),
    "closing": _entry,
    "closings by import": _calendar_import,
    "closings by address": _calendar_by_address,
    "buildings by import": _buildings_import,
    "something happened": lambda ground: happening_say(
        actor=ground.cast.teacher, values={"kind": "away", "first_date": date(0)}
    ),
    "move": _move,
    "removal": _remove,
    "next week": _another_week,
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_is_in_the_next_fetch(ground: Ground, name: str) -> None:
    """And nothing is before it: the same tag twice."""
    feed, address = ground.feed()
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"students": "codes"})
    before = tag(address)
    assert before[0] == 200
    assert tag(address) == before
    ground.clock.forward(minutes=1)
    CHANGES[name](ground)
    after = tag(address)
    assert after[0] == 200
    assert after[1] != before[1]
    assert tag(address) == after


def test_taking_back_is_a_change_as_well(ground: Ground) -> None:
    """A deleted closing, an import that is undone, a version that is brought back."""
    _, address = ground.feed()
    tags = [tag(address)]
    entry = _entry(ground)
    tags.append(tag(address))
    calendar_entry_delete(actor=ground.cast.coordinator, row=entry)
    tags.append(tag(address))
    for bring_in in (_calendar_import, _buildings_import):
        made = bring_in(ground)
        tags.append(tag(address))
        import_undo(actor=ground.cast.coordinator, batch=made)
        tags.append(tag(address))
    _move(ground)
    tags.append(tag(address))
    week_restore(actor=ground.cast.teacher, week=ground.week)
    tags.append(tag(address))
    assert all(one != other for one, other in pairwise(tags)), tags


def test_a_line_that_another_provides_takes_its_student_along(ground: Ground) -> None:
    """The provider of a service sees its student; who no longer provides it must not show them."""
    ground.cast.student.caseload_teacher = ground.cast.mate
    ground.cast.student.save()
    feed, address = ground.feed()
    feed_options_save(actor=ground.cast.teacher, feed=feed, values={"students": "codes"})
    assert b"S01" in Client().get(address.removeprefix(SITE)).content
    service_line_save(actor=ground.cast.coordinator, row=ground.cast.line, values={"provider": ground.cast.mate})
    assert b"S01" not in Client().get(address.removeprefix(SITE)).content


def test_other_feeds_see_changes_of_theirs(ground: Ground) -> None:
    """A class's name, an office that isn't the school's anymore, a cover that ends."""
    cast = ground.cast
    room: SchoolClass = cast.room4
    _, address = ground.feed(kind=Feed.Kind.CLASS, school_class=room)
    before = tag(address)
    school_class_save(actor=cast.coordinator, row=room, values={"name": "Room 40"})
    assert tag(address)[1] != before[1]
    _, office = ground.feed(cast.office, kind=Feed.Kind.BUILDING, building=cast.north)
    status, was = tag(office)
    assert status == 200
    person_with_offices_save(actor=cast.coordinator, row=cast.office, values={"buildings": [cast.south]})
    assert tag(office)[1] not in {"", was}
    assert is_emptied(office)
    values = {"teacher": cast.teacher, "substitute": cast.substitute, "first_date": date(0), "last_date": date(4)}
    cover = substitution_save(actor=cast.coordinator, row=Substitution(), values=values)
    _, covering = ground.feed(cast.substitute, kind=Feed.Kind.SUBSTITUTE, substitution=cover)
    before = tag(covering)
    substitution_save(actor=cast.coordinator, row=cover, values={"last_date": date(1)})
    assert tag(covering)[1] != before[1]
    substitution_delete(actor=cast.coordinator, row=cover)
    assert is_emptied(covering)
    _, own = ground.feed()
    person_active_set(actor=cast.coordinator, row=cast.teacher, active=False)
    assert is_emptied(own)


# ---- writes that send no signal ------------------------------------------------------------------------

UNSIGNALLED = {"bulk_create", "bulk_update", "_raw_delete"}
# Where Django sends no signal, and why no feed misses it.
HARMLESS = {
    "accounts/idempotency/services.py": "keys of what was sent: not shown",
    "accounts/roles/services.py": "in which of the own roles somebody works: a feed has its own",
    "schedule/everybody/services.py": "when a plan of everybody's week is stopped: not shown",
    "schedule/erasing/services/removing.py": "records of students and districts: it marks the feeds itself",
    "schedule/erasing/services/runs.py": "lists of what is erased: not shown",
    "schedule/erasing/services/texts.py": "a name in texts; what removes its student marks the feeds",
    "schedule/notices/services/outbox.py": "messages: no feed shows them",
    "schedule/notices/services/telling.py": "what was told: not shown",
    "schedule/notices/services/watching.py": "whose days are to be compared: not shown",
    "caseload/care/services/seen.py": "who was shown students' care: not shown",
    "caseload/care/services/tags.py": "a new district's caution tags: no feed shows care",
    "schedule/next_year/services/drafting.py": "a coming year before it is started: nothing shows it",
    "schedule/telling/services/reports.py": "progress reports: no feed shows them",
    "schedule/demo/services/goals.py": "the demo's past, before anybody has a feed",
    "schedule/demo/services/log.py": "the same",
    "schedule/demo/services/rotations.py": "who is at which station: no feed shows stations",
    "schedule/demo/services/weeks.py": "the same",
    "schedule/happenings/services/logged.py": "until when it is logged; what is said is saved, which is heard",
    "schedule/packet/services.py": "a link to a packet that ends: no feed shows packets",
    "schedule/stations/services.py": "which station serves which goal: no feed shows stations",
    "accounts/sign_in/services/factors.py": "second factors: not shown",
    "accounts/sign_in/services/sessions.py": "open sessions: not shown",
    "accounts/sign_in/services/tries.py": "sign-ins that failed: not shown",
    "accounts/tokens/services.py": "when a token was used: not shown",
    "accounts/invitations/services.py": "links by which a first password is chosen: not shown",
    "accounts/people/services.py": "passwords, links: not shown; sessions of a cover, saved first and heard",
    "accounts/services/records.py": "many audit entries at once: not shown",
    "caseload/delivery/services/rules.py": "reasons of the log: not shown",
    "caseload/delivery/services/log.py": "the log: not shown",
    "caseload/delivery/services/versions.py": "the log: not shown",
    "caseload/delivery/services/undo.py": "the log: not shown",
    "caseload/plans/services/kept.py": "the revision of a service: not shown",
    "schedule/weeks/services/following.py": "under which version of a service a session stands: not shown",
    "jobs/dispatch.py": "jobs: not shown",
    "jobs/services.py": "jobs: not shown",
    "schedule/weeks/services/content.py": "rows of a version; what puts it in force saves its week, which is heard",
    "schedule/calendar/services/busy.py": "a teacher's own calendars: not shown",
    "schedule/imports/services/answers.py": "a preview: not shown",
    "schedule/imports/services/calendar_reading.py": "the usual words of calendars; entries go by their service",
    "schedule/imports/services/calendar_sources.py": "an address and what it said; entries go by their service",
    "schedule/imports/services/calendar_waiting.py": "what waits at an address; entries go by their service",
    "schedule/feeds/services/versions.py": "the feeds' own marks and items",
    "schedule/feeds/services/feeds.py": "the feeds' own addresses, marked there; when one was fetched: not shown",
    "schedule/imports/services/rows.py": "rows of an import; what commits or undoes it marks the feeds itself",
    "schedule/imports/services/own_tables.py": "which column of a sender's is which: not shown",
    "schedule/imports/services/saving.py": "what an import did; it marks the feeds itself",
    "schedule/imports/services/work.py": "how far an import is: not shown",
    "schedule/imports/services/tables.py": "what a preview found: not shown",
    "schedule/overview/services.py": "figures of the district: not shown",
    "schedule/reports/services.py": "reports: not shown",
    "schedule/terms/services/publishing.py": "to which term a week in force belongs: not shown",
    "schedule/terms/services/standing.py": "who is in a timetable: feeds show the weeks that are in force",
    "schedule/weeks/services/runs.py": "what a run has found so far: not shown",
    "schedule/weeks/services/drafts.py": "the revision of a draft: not shown",
    "schedule/weeks/services/questions.py": "a draft's name: not shown",
    "schedule/weeks/services/weeks.py": "the version before; the one after is saved with it, which is heard",
}


def _unsignalled(tree: ast.AST) -> Iterator[str]:
    """Names of calls that write rows without a signal: `update` of rows takes keywords only."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            is_update = node.func.attr == "update" and node.keywords and not node.args
            if is_update or node.func.attr in UNSIGNALLED:
                yield node.func.attr


def test_writes_without_a_signal_are_known() -> None:
    """A new one needs a reason here, or marks the feeds itself (schedule.feeds.services.versions.feeds_touch)."""
    apps = ("accounts", "caseload", "travel", "schedule", "jobs", "config")
    files = [path for app in apps for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    found = {
        str(path.relative_to(ROOT))
        for path in files
        if any(_unsignalled(ast.parse(path.read_text(encoding="utf-8"))))
    }
    assert found == set(HARMLESS)
