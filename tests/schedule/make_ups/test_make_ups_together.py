"""Make-ups of a service that two teachers give together: when the other is there comes first, and is said.

What counts as being there is docs/together.md's; no outside source.
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.plans.models import ServiceLine
from schedule.calendar.models import BusyCalendar, BusyTime, Happening, TeacherRules
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.spans import overlap
from schedule.joint.models import JointService
from schedule.make_ups.beside import is_held, is_there
from schedule.make_ups.minutes import MakeUpSlot
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.weeks.day_truth import DRIVE, MEETING, SESSION, Part
from schedule.weeks.models import WeekPlan
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_line, make_week, minute
from tests.schedule.make_ups.test_make_ups import NEXT, SUNDAY, line
from tests.schedule.weeks.planning.two_teachers import also_served_by, make_rules, publish
from tests.schedule.weeks.test_week_pages import page

__all__ = ["line"]

WEDNESDAY = date(9)


@pytest.fixture
def theirs(cast: Cast, line: ServiceLine) -> ServiceLine:
    """The mate's service for the same student, given together; two other students of the mate on Wednesday."""
    make_rules(cast, cast.mate)
    TeacherRules.objects.filter(teacher=cast.mate).update(preparation_minutes=0)
    same = also_served_by(cast.mate, line.plan.student)
    JointService.objects.create(service=line.service, partner=same.service, first_day=date(0))
    others = [make_line(cast, code, teacher=cast.mate) for code in ("M1", "M2")]
    units = [f"line-{one.pk}" for one in others]
    times = [(units[0], WEDNESDAY, "8:30"), (units[1], WEDNESDAY, "10:10")]
    publish(make_week(cast, times, monday=NEXT, teacher=cast.mate))
    return same


def slots(cast: Cast, line: ServiceLine) -> tuple[MakeUpSlot, ...]:
    """Those of the next week."""
    return make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13))).slots


def free(cast: Cast, found: tuple[MakeUpSlot, ...]) -> set[tuple[int, int]]:
    """Of that Wednesday, which the mate spends at North, when there is neither a session nor lunch."""
    week = WeekPlan.objects.get(teacher=cast.mate, status="published")
    lunch = week.items.get(date=WEDNESDAY, kind="lunch")
    taken = [(at("8:30"), at("9:00")), (at("10:10"), at("10:40")), (lunch.start, lunch.end)]
    spans = {(one.start, one.end) for one in found if one.date == WEDNESDAY}
    return {span for span in spans if not any(overlap(span, (minutes_of(a), minutes_of(b))) for a, b in taken)}


def joint(found: tuple[MakeUpSlot, ...]) -> list[MakeUpSlot]:
    """Those that can be given with the mate."""
    return [one for one in found if one.mates == ("Mate Vey",)]


def test_the_others_free_time_in_the_building_comes_first(
    cast: Cast, line: ServiceLine, theirs: ServiceLine
) -> None:
    """All of the mate's gap, nothing else, and then the others by date."""
    found = slots(cast, line)
    together = joint(found)
    assert together
    assert together == list(found[: len(together)])
    assert {one.date for one in together} == {WEDNESDAY}
    assert {(one.start, one.end) for one in together} == free(cast, found)
    rest = [(one.date, one.start) for one in found[len(together) :]]
    assert rest == sorted(rest)
    assert min(one.date for one in found) < WEDNESDAY, "something would come earlier"
    assert all("Mate Vey can give it with you then, without a drive." in one.words for one in together)
    assert not any("Mate Vey" in one.words for one in found[len(together) :])


def test_without_agreement_nobody_is_named(cast: Cast, line: ServiceLine, theirs: ServiceLine) -> None:
    JointService.objects.update(last_day=date(8))
    found = slots(cast, line)
    assert joint(found) == []
    assert [(one.date, one.start) for one in found] == sorted((one.date, one.start) for one in found)


def test_who_is_away_or_busy_is_not_there(cast: Cast, line: ServiceLine, theirs: ServiceLine) -> None:
    """An own calendar takes 9:00 to 9:50 first, an absence then all of the day."""
    calendar = BusyCalendar.objects.create(district=cast.district, teacher=cast.mate, title="Own")
    BusyTime.objects.create(calendar=calendar, date=WEDNESDAY, start=at("9:00"), end=at("9:50"))
    found = slots(cast, line)
    late = {span for span in free(cast, found) if span[0] >= minute("9:50")}
    assert {(one.start, one.end) for one in joint(found)} == late
    assert late != free(cast, found)
    Happening.objects.create(
        district=cast.district,
        kind="away",
        teacher=cast.mate,
        first_date=WEDNESDAY,
        last_date=WEDNESDAY,
        said_by=cast.mate,
    )
    assert joint(slots(cast, line)) == []


def test_page_and_api_say_it(
    cast: Cast, line: ServiceLine, theirs: ServiceLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside each such slot, first of all."""
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SUNDAY)
    shown = page(cast.teacher, "make_up_slots", line.pk)
    assert "Slots, by date, those to give together first" in shown
    slot = shown.partition('<ol class="rows"')[2].partition("</li>")[0]
    assert "Wednesday, September 23" in slot
    assert "can be given together" in slot
    assert "Mate Vey can give it with you then" in slot
    [first, *_] = Api(cast.teacher).get(f"make-ups/lines/{line.pk}/")
    assert (first["date"], first["mates"]) == (WEDNESDAY.isoformat(), ["Mate Vey"])


def test_questions_do_not_grow_with_the_slots(cast: Cast, line: ServiceLine, theirs: ServiceLine) -> None:
    """Mates are asked for once for all slots: looking at one weekday alone asks as often."""
    counts = []
    for weekday in (None, 2):
        with CaptureQueriesContext(connection) as asked:
            make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13), weekday=weekday))
        counts.append(len(asked))
    assert counts[0] == counts[1]


# ---- pure ------------------------------------------------------------------------------------------------------

NORTH, SOUTH = 1, 2


def held(start: str, end: str, building: int | None, kind: str = SESSION, origin: int | None = None) -> Part:
    return Part(kind, minute(start), minute(end), building, origin, key=start if kind == SESSION else "")


GAP = (minute("9:20"), minute("9:50"))


@pytest.mark.parametrize(
    ("parts", "there"),
    [
        ([held("8:30", "9:00", NORTH), held("10:10", "10:40", NORTH)], True),
        ([held("8:30", "9:20", NORTH), held("9:50", "10:10", SOUTH, DRIVE, NORTH)], True),
        ([held("8:30", "9:00", SOUTH, DRIVE, NORTH), held("10:10", "10:40", SOUTH)], False),
        (
            [held("8:30", "9:00", NORTH), held("9:30", "9:40", SOUTH, DRIVE, NORTH), held("10:10", "10:40", SOUTH)],
            False,
        ),
        ([held("8:30", "9:00", NORTH), held("9:45", "10:00", None, MEETING), held("10:10", "10:40", NORTH)], False),
        ([held("8:30", "9:00", NORTH)], False),
        ([held("9:00", "10:00", NORTH, "preparation")], True),
        ([held("9:00", "9:40", NORTH, "preparation"), held("9:40", "10:00", SOUTH, "preparation")], False),
        ([held("9:00", "10:00", None, "preparation")], False),
        ([held("10:10", "10:40", NORTH)], False),
        ([], False),
    ],
)
def test_being_there_is_between_two_things_of_the_same_building(parts: list[Part], there: bool) -> None:
    assert is_there(parts, NORTH, GAP) is there


def test_what_is_booked_already_is_there_at_the_same_minute_and_place() -> None:
    day = [held("9:20", "9:50", NORTH)]
    assert is_held(day, NORTH, GAP, {"9:20"})
    assert not is_held(day, NORTH, GAP, {"8:30"})
    assert not is_held(day, SOUTH, GAP, {"9:20"})
    assert not is_held(day, NORTH, (GAP[0], GAP[1] + 5), {"9:20"})
