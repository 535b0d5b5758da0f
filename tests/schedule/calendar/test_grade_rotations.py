"""Two rotations in one building: a K-8 school whose lower grades count six days, and middle grades A and B weeks.

The calendar is made by hand. A six-day rotation of specials and A/B weeks are common practice, no source; that a
closed day pushes the next unused label on, or loses it, are the two practices read in districts' calendars (see
test_calendars).
"""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from caseload.ledger.terms import Span
from caseload.plans.enrollments import Stay
from schedule.calendar.calendars import BellDefaults, EntryKind, SpecialDays
from schedule.calendar.laid_out import DayFacts, day_is_named, lay_out_days
from schedule.calendar.models import BellRule, CalendarEntry, ClassMeeting, DayRotation, SchoolYear
from schedule.calendar.rotations import Rotation, RotationKind, RotationPractice, numbered_labels
from schedule.calendar.selectors.school_days import coming_days, load_calendars
from schedule.calendar.selectors.student_days import StudentDays
from schedule.calendar.services import records
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_bells, make_cycle, make_ground

MIDDLE = frozenset({"6", "7", "8"})


def day(n: int) -> dt.date:
    """So many days after Monday, September 14, 2026."""
    return MONDAY + dt.timedelta(days=n)


def six_days(practice: RotationPractice = RotationPractice.NEXT_UNUSED) -> Rotation:
    return Rotation(RotationKind.CYCLE, numbered_labels(6), practice, MONDAY, "Day 1")


def four_days(practice: RotationPractice) -> Rotation:
    labels = ("MS1", "MS2", "MS3", "MS4")
    return Rotation(RotationKind.CYCLE, labels, practice, MONDAY, "MS1", "Middle grades", MIDDLE)


def ab_weeks() -> Rotation:
    practice = RotationPractice.FIXED_TO_DATE
    return Rotation(RotationKind.AB_WEEKS, ("A", "B"), practice, MONDAY, "A", "Middle grades", MIDDLE)


SNOW = SpecialDays(day(2), day(2), EntryKind.CLOSED, "Snow day")


# ---- what a date is --------------------------------------------------------------------------------------


def test_each_date_is_a_day_of_both() -> None:
    """Two weeks by hand: Day 1 to 5, then Day 6, 1, 2, 3, 4; an A week, then a B week."""
    days = lay_out_days(day(0), day(11), bells=BellDefaults("R"), rotation=six_days(), others=[ab_weeks()])
    told = [tuple(one.label for one in found.turning) for found in days.values() if found.open]
    assert told == [
        ("Day 1", "A"), ("Day 2", "A"), ("Day 3", "A"), ("Day 4", "A"), ("Day 5", "A"),
        ("Day 6", "B"), ("Day 1", "B"), ("Day 2", "B"), ("Day 3", "B"), ("Day 4", "B"),
    ]  # fmt: skip


def test_a_snow_day_pushes_one_rotation_on_and_not_the_other() -> None:
    """Wednesday is closed. The six days go on with the unused Day 3, the four days have lost their third."""
    days = lay_out_days(
        day(0),
        day(4),
        bells=BellDefaults("R"),
        rotation=six_days(),
        others=[four_days(RotationPractice.FIXED_TO_DATE)],
        entries=[SNOW],
    )
    told = {date: tuple(one.label for one in found.turning) for date, found in days.items()}
    assert told == {
        day(0): ("Day 1", "MS1"),
        day(1): ("Day 2", "MS2"),
        day(2): ("", ""),
        day(3): ("Day 3", "MS4"),
        day(4): ("Day 4", "MS1"),
    }


def test_the_other_way_round_the_other_one_is_pushed_on() -> None:
    days = lay_out_days(
        day(0),
        day(4),
        bells=BellDefaults("R"),
        rotation=six_days(RotationPractice.FIXED_TO_DATE),
        others=[four_days(RotationPractice.NEXT_UNUSED)],
        entries=[SNOW],
    )
    told = [tuple(one.label for one in days[day(n)].turning) for n in (1, 3, 4)]
    assert told == [("Day 2", "MS2"), ("Day 4", "MS3"), ("Day 5", "MS4")]


def test_bells_of_a_day_of_either_ring_and_the_buildings_own_come_first() -> None:
    bells = BellDefaults("Regular", by_label={"Day 3": "Assembly", "MS2": "Advisory", "MS3": "Advisory"})
    days = lay_out_days(
        day(0),
        day(3),
        bells=bells,
        rotation=six_days(),
        others=[four_days(RotationPractice.NEXT_UNUSED)],
    )
    assert [days[day(n)].bell for n in range(4)] == ["Regular", "Advisory", "Assembly", "Regular"]


def facts_of(n: int, *, closed: bool = False) -> DayFacts:
    entries = [SpecialDays(day(n), day(n), EntryKind.CLOSED)] if closed else []
    days = lay_out_days(
        day(0), day(11), bells=BellDefaults("R"), rotation=six_days(), others=[ab_weeks()], entries=entries
    )
    found = days[day(n)]
    return DayFacts(found.date, found.open, cycle_label=found.cycle_label, turning=found.turning)


@pytest.mark.parametrize(
    ("days", "named"),
    [
        ("Day 2", True),
        ("2", True),
        ("B", True),
        ("B Tue", True),
        ("A", False),
        ("A Tue, Day 3", False),
        ("Tue", True),
    ],
)
def test_a_text_names_days_of_either(days: str, named: bool) -> None:
    """Tuesday of the second week is Day 1 of the six, in the B week; the Wednesday Day 2."""
    assert day_is_named(days.replace("Tue", "Wed"), facts_of(9)) is named


@pytest.mark.parametrize(
    ("grades", "key"),
    [
        ({"3"}, "Day 2"),
        ({"7"}, "B wednesday"),
        ({"6", "8"}, "B wednesday"),
        # A group of both goes by the building's own, and so does who has no grade.
        ({"5", "6"}, "Day 2"),
        (set(), "Day 2"),
    ],
)
def test_grades_follow_their_own(grades: set[str], key: str) -> None:
    assert facts_of(9).for_grades(grades).pattern_key == key


def test_a_label_says_of_which_rotation_a_day_was() -> None:
    facts = facts_of(9)
    assert facts.kind_of(day(0), "A") == "A monday"
    assert facts.kind_of(day(0), "Day 1") == "Day 1"
    assert facts_of(2, closed=True).kind_of(day(0), "B") == "B monday"
    assert [one.pattern_key for one in facts.each()] == ["Day 2", "B wednesday"]


# ---- rows ------------------------------------------------------------------------------------------------


def middle(cast: Cast, **values: object) -> DayRotation:
    """Grades 6 to 8 of the north school count A and B weeks, unless ``values`` say otherwise."""
    given = {"name": "Middle grades", "grades": "6-8", "kind": "ab_weeks", "anchor_date": MONDAY} | values
    return records.rotation_save(actor=cast.teacher, row=DayRotation(building=cast.north), values=given)


def test_a_building_lays_out_both_from_rows(cast: Cast) -> None:
    make_ground(cast)
    make_cycle(cast.north)
    middle(cast)
    [calendar] = load_calendars(cast.district, [cast.north], SchoolYear.objects.get()).values()
    assert calendar.facts(day(7)).labels == ("Day 6", "B")
    assert calendar.facts(day(7)).for_grades(["7"]).pattern_key == "B monday"
    # Outside the school year there is no day of either, and still it is known which one counts weeks.
    assert calendar.facts(dt.date(2027, 8, 1)).labels == ()
    assert calendar.facts(dt.date(2027, 8, 2)).kind_of(day(0), "B") == "B monday"


def test_a_building_may_have_one_for_some_grades_alone(cast: Cast) -> None:
    """All the others have plain weekdays."""
    make_ground(cast)
    middle(cast)
    [calendar] = load_calendars(cast.district, [cast.north], SchoolYear.objects.get()).values()
    assert [calendar.facts(day(1)).for_grades([one]).pattern_key for one in ("2", "8")] == ["tuesday", "A tuesday"]


def test_the_next_school_days_have_both(cast: Cast) -> None:
    make_ground(cast)
    assert coming_days(cast.north, MONDAY) == []
    make_cycle(cast.north)
    middle(cast)
    CalendarEntry.objects.create(district=cast.district, first_date=day(1), last_date=day(1), kind="closed")
    found = coming_days(cast.north, day(0))
    assert [one.date for one in found[:4]] == [day(0), day(2), day(3), day(4)]
    assert [one.labels for one in found[:5]] == [
        ("Day 1", "A"), ("Day 2", "A"), ("Day 3", "A"), ("Day 4", "A"), ("Day 5", "B"),
    ]  # fmt: skip
    assert len(found) == 10


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"grades": "", "name": "Another"}, "building"),
        ({"name": ""}, "name"),
        ({"grades": "5-6", "name": "Upper grades"}, "grades"),
        ({"grades": "5"}, "name"),
        ({"grades": "5", "name": "Upper", "kind": "cycle", "length": 4}, "labels"),
        ({"grades": "5", "name": "Upper", "kind": "cycle", "length": 2, "labels": "3,X"}, "labels"),
        ({"grades": "5", "name": "Upper", "labels": "b,C"}, "labels"),
    ],
)
def test_two_rotations_are_told_apart(cast: Cast, values: dict[str, object], field: str) -> None:
    """One without grades, without a name, for a grade twice, with a name twice, with a label of the other two."""
    make_cycle(cast.north)
    middle(cast)
    with pytest.raises(ValidationError) as caught:
        middle(cast, **values)
    assert field in caught.value.message_dict


def test_the_own_rotation_may_not_take_a_label_of_another(cast: Cast) -> None:
    own = make_cycle(cast.north)
    middle(cast)
    with pytest.raises(ValidationError) as caught:
        records.rotation_save(actor=cast.teacher, row=own, values={"labels": "A,B,C,D,E,F"})
    assert "“A” is a day of Middle grades already" in caught.value.message_dict["labels"][0]


def test_a_rotation_whose_days_are_named_stays(cast: Cast) -> None:
    """Deleted, “B Mon” would name no day anymore; a day of the other rotation is in nobody's way."""
    make_ground(cast)
    make_cycle(cast.north)
    row = middle(cast)
    BellRule.objects.create(building=cast.north, day="Day 3", schedule=make_bells(cast.north, name="Assembly"))
    meeting = ClassMeeting.objects.create(school_class=cast.room4, days="Wed, B Mon", period="2")
    with pytest.raises(ApplicationError) as caught:
        records.rotation_delete(actor=cast.teacher, row=row)
    assert caught.value.code == "still_used"
    assert cast.room4.name in caught.value.message
    meeting.delete()
    records.rotation_delete(actor=cast.teacher, row=row)
    assert [one.grades for one in cast.north.rotations.all()] == [""]


def test_days_of_both_can_be_named_and_others_not(cast: Cast) -> None:
    make_ground(cast)
    make_cycle(cast.north)
    middle(cast)
    row = ClassMeeting(school_class=cast.room4)
    records.class_meeting_save(actor=cast.teacher, row=row, values={"days": "Day 3, B Fri", "period": "2"})
    with pytest.raises(ValidationError) as caught:
        records.class_meeting_save(actor=cast.teacher, row=row, values={"days": "C"})
    assert "Day 6, A, B" in caught.value.message_dict["days"][0]


# ---- turns that a service counts -------------------------------------------------------------------------


def turns_of(cast: Cast, *stays: Stay) -> list[tuple[dt.date, ...]]:
    year = SchoolYear.objects.get()
    calendars = load_calendars(cast.district, [cast.north], year)
    span = Span(year.name, year.first_day, year.last_day)
    return [tuple(turn) for turn in StudentDays(calendars, stays, None, span).own_turns()]


def test_a_student_counts_the_turns_of_the_own_grade(cast: Cast) -> None:
    """Six school days for grade 3; an A and a B week, ten school days, for grade 7."""
    make_ground(cast)
    make_cycle(cast.north)
    middle(cast)
    whole = [turn for turn in turns_of(cast, Stay(cast.north.pk, grade="3")) if turn[0] >= MONDAY]
    assert whole[0] == (day(0), day(1), day(2), day(3), day(4), day(7))
    weeks = [turn for turn in turns_of(cast, Stay(cast.north.pk, grade="7")) if turn[0] >= MONDAY]
    assert weeks[0] == (*map(day, range(5)), *map(day, range(7, 12)))
