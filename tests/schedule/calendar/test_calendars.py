"""School days, rotations in both practices after a closure, and the choice of bells for a date."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.calendar.calendars import (
    MONDAY_TO_FRIDAY,
    BellDefaults,
    CalendarError,
    EntryKind,
    SchoolDay,
    SpecialDays,
    dates_between,
    school_days,
)
from schedule.calendar.laid_out import lay_out_days
from schedule.calendar.rotations import Rotation, RotationKind, RotationPractice, group_cycles, numbered_labels

# Monday to Friday of two weeks without a United States holiday.
MON, TUE, WED, THU, FRI, SAT, SUN = (date(2026, 9, 14) + timedelta(days=n) for n in range(7))
NEXT_MON = MON + timedelta(days=7)
REGULAR = BellDefaults(regular="Regular")


def laid_out(first: date, last: date, *, bells: BellDefaults, **more: Any) -> tuple[SchoolDay, ...]:
    return tuple(lay_out_days(first, last, bells=bells, **more).values())


def closed(first: date, last: date | None = None, title: str = "Closed") -> SpecialDays:
    return SpecialDays(first, last or first, EntryKind.CLOSED, title)


def cycle(length: int, practice: str, anchor: date, label: str = "Day 1") -> Rotation:
    return Rotation(RotationKind.CYCLE, numbered_labels(length), RotationPractice(practice), anchor, label)


def ab_weeks(practice: str, anchor: date) -> Rotation:
    return Rotation(RotationKind.AB_WEEKS, ("A", "B"), RotationPractice(practice), anchor, "A")


def cycle_labels(
    first: date, last: date, rotation: Rotation, entries: Sequence[SpecialDays] = ()
) -> dict[date, str]:
    """The label of each school day."""
    days = laid_out(first, last, bells=REGULAR, rotation=rotation, entries=entries, allow_none=True)
    return {day.date: day.cycle_label for day in days if day.open}


def one_day(day: date, bells: BellDefaults, *entries: SpecialDays) -> SchoolDay:
    return laid_out(day, day, bells=bells, entries=entries, allow_none=True)[0]


# --- rotations


def test_next_unused_day_follows_a_closure() -> None:
    """Read in two districts' calendars: Monday should be Day 3 and is closed, so Tuesday is Day 3."""
    rotation = cycle(6, "next_unused", date(2026, 9, 10))  # Thursday: Day 1, Friday: Day 2
    labels = cycle_labels(MON, FRI, rotation, entries=[closed(MON)])
    assert labels == {TUE: "Day 3", WED: "Day 4", THU: "Day 5", FRI: "Day 6"}


def test_a_label_fixed_to_its_date_is_lost_with_it() -> None:
    """The other practice (from memory, no source read): the letter stays with the date."""
    rotation = cycle(6, "fixed_to_date", date(2026, 9, 10))
    labels = cycle_labels(MON, FRI, rotation, entries=[closed(MON)])
    assert labels == {TUE: "Day 4", WED: "Day 5", THU: "Day 6", FRI: "Day 1"}


def test_count_runs_back_from_the_anchor_too() -> None:
    labels = cycle_labels(MON, FRI, cycle(4, "next_unused", THU, "Day 2"), entries=[closed(WED)])
    assert labels == {MON: "Day 4", TUE: "Day 1", THU: "Day 2", FRI: "Day 3"}


def test_a_closed_anchor_gives_its_label_to_the_first_school_day_after_it() -> None:
    labels = cycle_labels(MON, WED, cycle(4, "next_unused", MON, "Day 2"), entries=[closed(MON)])
    assert labels == {TUE: "Day 2", WED: "Day 3"}
    # The same when the days asked for all lie before it, and nothing after it has been laid out.
    labels = cycle_labels(MON, TUE, cycle(4, "next_unused", WED, "Day 2"), entries=[closed(WED)])
    assert labels == {MON: "Day 4", TUE: "Day 1"}


@pytest.mark.parametrize("practice", ["next_unused", "fixed_to_date"])
def test_an_anchor_at_the_weekend_counts_from_monday(practice: str) -> None:
    assert cycle_labels(NEXT_MON, NEXT_MON, cycle(3, practice, SAT)) == {NEXT_MON: "Day 1"}
    assert cycle_labels(NEXT_MON, NEXT_MON, ab_weeks(practice, SAT)) == {NEXT_MON: "A"}


def test_ab_weeks_alternate_by_week_and_ignore_single_closures() -> None:
    for practice in RotationPractice:
        labels = cycle_labels(MON, NEXT_MON, ab_weeks(practice, MON), entries=[closed(WED)])
        assert labels == {MON: "A", TUE: "A", THU: "A", FRI: "A", NEXT_MON: "B"}


def test_a_week_without_school_is_skipped_or_lost_by_practice() -> None:
    """Common practice, no source: a whole week of closure either uses up its letter or does not."""
    later = NEXT_MON + timedelta(days=7)
    shut = [closed(NEXT_MON, NEXT_MON + timedelta(days=4))]
    assert cycle_labels(later, later, ab_weeks("next_unused", MON), entries=shut) == {later: "B"}
    assert cycle_labels(later, later, ab_weeks("fixed_to_date", MON), entries=shut) == {later: "A"}


def test_a_plain_week_has_no_labels() -> None:
    assert set(cycle_labels(MON, FRI, Rotation()).values()) == {""}


def test_a_saturday_that_makes_up_for_a_storm() -> None:
    made_up = [SpecialDays(SAT, SAT, EntryKind.OPEN, "Make-up day")]
    # It takes the next unused label; with labels fixed to dates no Saturday has one.
    assert cycle_labels(FRI, NEXT_MON, cycle(6, "next_unused", FRI), entries=made_up) == {
        FRI: "Day 1",
        SAT: "Day 2",
        NEXT_MON: "Day 3",
    }
    assert cycle_labels(FRI, NEXT_MON, cycle(6, "fixed_to_date", FRI), entries=made_up) == {
        FRI: "Day 1",
        SAT: "",
        NEXT_MON: "Day 2",
    }


def reference_labels(first: date, last: date, length: int, shut: set[date], *, fixed: bool) -> dict[date, int]:
    """An independent count: walk the dates, one counter, written without the code under test."""
    labels: dict[date, int] = {}
    counter, day = 0, first
    while day <= last:
        if day.isoweekday() <= 5:
            if day not in shut:
                labels[day] = counter % length + 1
            if fixed or day not in shut:
                counter += 1
        day += timedelta(days=1)
    return labels


some_closures = st.sets(st.integers(0, 59).map(lambda n: MON + timedelta(days=n)), max_size=25)


@given(st.integers(2, 10), some_closures, st.booleans())
def test_cycles_of_2_to_10_days_agree_with_the_reference(length: int, shut: set[date], fixed: bool) -> None:
    last = MON + timedelta(days=59)
    practice = "fixed_to_date" if fixed else "next_unused"
    entries = [closed(day) for day in shut]
    found = cycle_labels(MON, last, cycle(length, practice, MON), entries=entries)
    expected = reference_labels(MON, last, length, shut, fixed=fixed)
    assert found == {day: f"Day {number}" for day, number in expected.items()}


@given(st.integers(2, 10), some_closures, st.integers(0, 59))
def test_one_more_closed_day_moves_all_later_labels_by_one_or_none(
    length: int, shut: set[date], offset: int
) -> None:
    """Metamorphic: next_unused moves each later label back by exactly one; fixed_to_date moves none."""
    extra = MON + timedelta(days=offset)
    last = MON + timedelta(days=59)
    before = [closed(day) for day in shut]
    after = [*before, closed(extra)]
    names = numbered_labels(length)
    for practice in RotationPractice:
        rotation = cycle(length, practice, MON)
        old = cycle_labels(MON, last, rotation, entries=before)
        new = cycle_labels(MON, last, rotation, entries=after)
        moves = practice is RotationPractice.NEXT_UNUSED and extra in old
        assert set(new) == set(old) - {extra}
        for day, label in new.items():
            shift = 1 if moves and day > extra else 0
            assert label == names[(names.index(old[day]) - shift) % length]


@given(st.integers(2, 10), some_closures, st.integers(0, 59), st.sampled_from(RotationPractice))
def test_any_known_date_serves_as_anchor(
    length: int, shut: set[date], offset: int, practice: RotationPractice
) -> None:
    """The calendar is the same from whichever of its own days it is counted."""
    entries = [closed(day) for day in shut]
    last = MON + timedelta(days=59)
    labels = cycle_labels(MON, last, cycle(length, practice, MON), entries=entries)
    known = MON + timedelta(days=offset)
    if known in labels:
        again = cycle_labels(MON, last, cycle(length, practice, known, labels[known]), entries=entries)
        assert again == labels


@pytest.mark.parametrize(
    ("kind", "labels", "anchor", "label", "words"),
    [
        ("cycle", ("A",), MON, "A", "2 to 10"),
        ("cycle", numbered_labels(11), MON, "Day 1", "2 to 10"),
        ("cycle", ("A", "A"), MON, "A", "same"),
        ("cycle", ("A", " "), MON, "A", "written"),
        ("cycle", ("A", "B"), None, "A", "known date"),
        ("ab_weeks", ("A", "B"), MON, "C", "must be one of A, B"),
        ("weekday", ("A", "B"), MON, "A", "plain week"),
    ],
)
def test_rotation_that_cannot_be_counted_is_refused(
    kind: str, labels: tuple[str, ...], anchor: date | None, label: str, words: str
) -> None:
    with pytest.raises(CalendarError, match=words):
        Rotation(RotationKind(kind), labels, RotationPractice.NEXT_UNUSED, anchor, label)


def test_turns_of_a_cycle_are_grouped() -> None:
    rotation = cycle(3, "next_unused", MON)
    days = laid_out(MON, NEXT_MON, bells=REGULAR, rotation=rotation, entries=[closed(WED)])
    assert group_cycles(days) == ((MON, TUE, THU), (FRI, NEXT_MON))
    fixed = cycle(3, "fixed_to_date", MON)  # Wednesday's Day 3 is lost: Thursday begins again
    days = laid_out(MON, NEXT_MON, bells=REGULAR, rotation=fixed, entries=[closed(WED)])
    assert group_cycles(days) == ((MON, TUE), (THU, FRI, NEXT_MON))
    # Days 2, 3 and 1 are lost: Friday's Day 2 is in another turn than Monday's Day 1.
    days = laid_out(MON, FRI, bells=REGULAR, rotation=fixed, entries=[closed(TUE, THU)])
    assert group_cycles(days) == ((MON,), (FRI,))
    weeks = ab_weeks("fixed_to_date", MON)
    days = laid_out(MON, MON + timedelta(days=20), bells=REGULAR, rotation=weeks)
    assert [len(turn) for turn in group_cycles(days)] == [10, 5]
    assert group_cycles(laid_out(MON, FRI, bells=REGULAR)) == ()


# --- open days


def test_school_days_leave_out_weekends_and_closures() -> None:
    entries = [closed(TUE), SpecialDays(THU, THU, EntryKind.NO_STUDENTS, "Staff day")]
    assert school_days(MON, NEXT_MON, MONDAY_TO_FRIDAY, entries) == (MON, WED, FRI, NEXT_MON)


def test_a_buildings_own_entry_wins_over_the_districts() -> None:
    district = closed(TUE, title="District closed")
    building = SpecialDays(TUE, TUE, EntryKind.OPEN, "Open all the same", precedence=1)
    assert school_days(TUE, TUE, MONDAY_TO_FRIDAY, [district, building]) == (TUE,)
    assert school_days(TUE, TUE, MONDAY_TO_FRIDAY, [closed(TUE), SpecialDays(TUE, TUE, EntryKind.OPEN)]) == ()


def test_shortened_days_open_no_saturday() -> None:
    entry = SpecialDays(SAT, SAT, EntryKind.EARLY_DISMISSAL)
    assert school_days(SAT, SUN, MONDAY_TO_FRIDAY, [entry]) == ()
    both = [entry, SpecialDays(SAT, SAT, EntryKind.OPEN)]
    assert school_days(SAT, SUN, MONDAY_TO_FRIDAY, both) == (SAT,)


def test_a_calendar_without_school_days_says_what_to_do() -> None:
    shut = [closed(MON, FRI, "Break")]
    with pytest.raises(CalendarError, match=r"no school day from September 14, 2026 to .*take out the closures"):
        laid_out(MON, FRI, bells=REGULAR, entries=shut)
    assert [day.open for day in laid_out(MON, FRI, bells=REGULAR, entries=shut, allow_none=True)] == [False] * 5


@pytest.mark.parametrize(
    ("first", "last", "words"), [(FRI, MON, "before it begins"), (MON, date(2206, 9, 14), "three years")]
)
def test_impossible_range_is_refused(first: date, last: date, words: str) -> None:
    with pytest.raises(CalendarError, match=words):
        dates_between(first, last)


def test_entry_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(CalendarError, match="Fall break"):
        closed(FRI, MON, "Fall break")
    with pytest.raises(CalendarError, match="must name a bell schedule"):
        SpecialDays(MON, MON, EntryKind.OTHER_BELL, "Assembly")
    assembly = SpecialDays(MON, MON, EntryKind.OTHER_BELL, "Assembly", bell="Assembly day")
    assert one_day(MON, REGULAR, assembly).bell == "Assembly day"


def test_a_range_is_at_most_three_years() -> None:
    """Three of the longest years, of 366 days each; a day more is a mistyped year."""
    assert len(list(dates_between(MON, MON + timedelta(days=3 * 366)))) == 3 * 366 + 1
    with pytest.raises(CalendarError, match="three years"):
        dates_between(MON, MON + timedelta(days=3 * 366 + 1))


@pytest.mark.parametrize("fields", [{"labels": ("A", "B")}, {"anchor": MON}, {"anchor_label": "A"}])
def test_a_plain_week_takes_nothing_of_a_rotation(fields: dict[str, Any]) -> None:
    """Each would say that days turn, which a plain week denies."""
    with pytest.raises(CalendarError, match="plain week"):
        Rotation(**fields)


def test_a_range_without_a_counted_day_has_no_label() -> None:
    """A weekend on which the count itself begins; opened by hand it has none either, as labels go with weekdays."""
    for practice in RotationPractice:
        assert cycle_labels(SAT, SUN, cycle(6, practice, SAT)) == {}
    opened = [SpecialDays(SAT, SAT, EntryKind.OPEN)]
    fixed = cycle(6, "fixed_to_date", SAT)
    assert cycle_labels(SAT, SUN, fixed, opened) == {SAT: ""}


# --- bells of a date


def test_bells_go_from_the_particular_to_the_general() -> None:
    plain = BellDefaults("Regular")
    weekday = BellDefaults("Regular", by_weekday={2: "Short Wednesday"})
    label = BellDefaults("Regular", by_weekday={2: "Short Wednesday"}, by_label={"Day 3": "Long block"})
    early = SpecialDays(WED, WED, EntryKind.EARLY_DISMISSAL, "Half day")
    by_kind = {EntryKind.EARLY_DISMISSAL: "Early"}
    full = BellDefaults("Regular", by_kind, label.by_label, label.by_weekday)
    by_hand = BellDefaults("Regular", by_kind, label.by_label, label.by_weekday, {WED: "Testing"})
    named = SpecialDays(WED, WED, EntryKind.EARLY_DISMISSAL, "Half day", bell="Noon dismissal")
    rotation = cycle(6, "next_unused", MON)

    def bell(bells: BellDefaults, *entries: SpecialDays) -> str:
        return laid_out(WED, WED, bells=bells, rotation=rotation, entries=entries)[0].bell

    assert bell(plain) == "Regular"
    assert bell(weekday) == "Short Wednesday"
    assert bell(label) == "Long block"
    assert bell(full, early) == "Early"
    assert bell(full, named) == "Noon dismissal"
    assert bell(by_hand, named) == "Testing"


def test_a_shortened_day_never_falls_back_on_regular_bells() -> None:
    day = one_day(WED, REGULAR, SpecialDays(WED, WED, EntryKind.DELAYED_OPENING, "Late start"))
    assert (day.open, day.bell, day.reason) == (True, "", "Late start")
    assert "no delayed opening bells: add them" in day.problem


def test_two_sorts_of_day_on_one_date_are_a_problem() -> None:
    bells = BellDefaults("Regular", {EntryKind.DELAYED_OPENING: "Late", EntryKind.EARLY_DISMISSAL: "Early"})
    late = SpecialDays(WED, WED, EntryKind.DELAYED_OPENING, "Late start")
    early = SpecialDays(WED, WED, EntryKind.EARLY_DISMISSAL, "Half day")
    day = one_day(WED, bells, late, early)
    assert day.bell == ""
    assert 'carries "Late start" and "Half day"' in day.problem
    again = SpecialDays(WED, WED, EntryKind.EARLY_DISMISSAL, "Conferences")
    assert (one_day(WED, bells, early, again).bell, one_day(WED, bells, early, again).problem) == ("Early", "")


def test_what_closes_names_the_day_and_what_opens_comes_last() -> None:
    """In whatever order the entries come: a storm on the day that makes up for one, a half day on such a day."""
    opened = SpecialDays(SAT, SAT, EntryKind.OPEN, "Make-up day")
    storm, half = closed(SAT, title="Storm"), SpecialDays(SAT, SAT, EntryKind.EARLY_DISMISSAL, "Half day")
    bells = BellDefaults("Regular", {EntryKind.EARLY_DISMISSAL: "Early"})
    for entries in ([opened, half], [half, opened]):
        day = one_day(SAT, bells, *entries)
        assert (day.open, day.reason, day.bell, day.problem) == (True, "Half day", "Early", "")
        assert not day.staff_only
    for entries in ([opened, half, storm], [storm, half, opened], [half, storm, opened]):
        assert one_day(SAT, bells, *entries).reason == "Storm"


def test_bells_named_by_the_entry_that_opens_a_day_are_its_bells() -> None:
    """The half day itself names none."""
    opened = SpecialDays(SAT, SAT, EntryKind.OPEN, "Make-up day", bell="Saturday")
    half = SpecialDays(SAT, SAT, EntryKind.EARLY_DISMISSAL, "Half day")
    assert one_day(SAT, REGULAR, half, opened).bell == "Saturday"


def test_a_day_without_a_title_is_called_by_its_kind() -> None:
    """In words, and a shortened Saturday is no school day because it is a Saturday."""
    assert one_day(THU, REGULAR, SpecialDays(THU, THU, EntryKind.NO_STUDENTS)).reason == "no students"
    assert one_day(SAT, REGULAR, SpecialDays(SAT, SAT, EntryKind.EARLY_DISMISSAL)).reason == "not a school weekday"


def test_closed_days_carry_their_reason() -> None:
    staff = one_day(THU, REGULAR, SpecialDays(THU, THU, EntryKind.NO_STUDENTS, "Professional day"))
    assert (staff.open, staff.staff_only, staff.reason, staff.bell) == (False, True, "Professional day", "")
    holiday = one_day(THU, REGULAR, closed(THU, title=""))
    assert (holiday.open, holiday.staff_only, holiday.reason) == (False, False, "closed")
    assert one_day(SAT, REGULAR).reason == "not a school weekday"


def test_a_date_is_the_same_alone_and_among_all() -> None:
    """Whoever asks for one date of a year gets what the whole year says of it."""
    first, last = date(2026, 9, 8), date(2027, 6, 18)
    of_year: dict[str, Any] = {
        "bells": REGULAR,
        "rotation": cycle(6, "next_unused", first),
        "entries": [closed(WED, FRI)],
    }
    whole = laid_out(first, last, **of_year)
    assert all(lay_out_days(first, last, **of_year)[day.date] == day for day in whole)
    days = lay_out_days(first, last, **of_year)
    assert list(days) == [day.date for day in whole]
    assert first - timedelta(days=1) not in days
    assert last + timedelta(days=1) not in days


def test_an_anchor_years_away_is_refused_before_a_date_is_asked_for() -> None:
    with pytest.raises(CalendarError, match="more than three years"):
        lay_out_days(MON, FRI, bells=REGULAR, rotation=cycle(6, "next_unused", date(2020, 9, 8)))


def test_a_year_is_laid_out_across_both_clock_changes() -> None:
    """United States clock changes November 1, 2026 and March 14, 2027 (Pub. L. 109-58 section 110): no date is
    lost or doubled, and the weeks after them are counted like any other."""
    days = laid_out(
        date(2026, 9, 8), date(2027, 6, 18), bells=REGULAR, rotation=cycle(2, "next_unused", date(2026, 9, 8))
    )
    assert len({day.date for day in days}) == len(days) == 284
    labels = {day.date: day.cycle_label for day in days}
    assert labels[date(2026, 10, 30)] != labels[date(2026, 11, 2)]
    assert labels[date(2027, 3, 12)] != labels[date(2027, 3, 15)]
