"""The strip's geometry, held against arithmetic done here by hand from the frame's measures."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from schedule.templatetags.weeks import note_line
from schedule.weeks.data import AttendeeView, DayDetail, ItemView, PlaceView, SessionOption, SessionView, WeekDetail
from schedule.weeks.strip.drawing import GENEROUS, Frame
from schedule.weeks.strip.from_week import (
    BuildingFacts,
    StripChoice,
    added,
    option_words,
    session_labels,
    strip_days,
    strip_places,
)
from schedule.weeks.strip.layout import DAY, WALL, WEEK, day_strip, settled, week_strip
from schedule.weeks.strip.road import miles_apart, road_order
from schedule.weeks.strip.shapes import BlockKind, Box, StripBlock, StripDay, StripDrive, StripPlace, Target
from schedule.weeks.strip.words import clock, cut, fitting, text_width
from travel.places.naming import school_labels, short_school_names

NEAR = StripPlace("1", "Hollow School", ("Hollow School", "HOLLOW"), 0.0)
MIDDLE = StripPlace("2", "Birch School", ("Birch School", "BIRCH"), 5.0)
FAR = StripPlace("3", "Tarn School", ("Tarn School", "TARN"), 45.0)
PLACES = (NEAR, MIDDLE, FAR)


def block(
    start: int,
    end: int,
    place: str = "1",
    kind: BlockKind = BlockKind.SESSION,
    *,
    labels: tuple[str, ...] = ("Cedar",),
) -> StripBlock:
    """A block with what a test needs of it."""
    return StripBlock(kind, start, end, place, labels, "spoken", key=f"{start}")


def drive(start: int, end: int, wheel: int, leave: int, origin: str = "1", destination: str = "2") -> StripDrive:
    """A drive between two buildings."""
    return StripDrive(start, end, origin, destination, wheel, leave, "spoken")


def day(*blocks: StripBlock, drives: tuple[StripDrive, ...] = (), targets: tuple[Target, ...] = ()) -> StripDay:
    """A Monday."""
    return StripDay("2026-09-14", "Mon", "Sep 14", blocks=blocks, drives=drives, targets=targets)


def across(minute: int, first: int = 480, last: int = 900) -> float:
    """Where a minute lies on the week's axis, by the rule of three."""
    room = WEEK.width - WEEK.left - WEEK.right
    return WEEK.left + room * (minute - first) / (last - first)


# --- the axis ----------------------------------------------------------------------------------------------


def test_a_quiet_week_shows_eight_to_three_and_a_longer_day_widens_the_axis() -> None:
    short = week_strip([day(block(9 * 60, 9 * 60 + 30))], PLACES)
    assert [tick.text for tick in short.ticks if tick.full] == [
        "8:00",
        "9:00",
        "10:00",
        "11:00",
        "12:00",
        "1:00",
        "2:00",
        "3:00",
    ]
    long = week_strip([day(block(7 * 60 + 20, 8 * 60), block(15 * 60, 15 * 60 + 40))], PLACES)
    assert (long.ticks[0].at, long.ticks[0].text) == (WEEK.left, "7:00")
    assert (long.ticks[-1].at, long.ticks[-1].text) == (WEEK.width - WEEK.right, "4:00")


def test_a_session_is_as_wide_as_it_is_long() -> None:
    row = week_strip([day(block(9 * 60, 9 * 60 + 30))], PLACES).rows[0]
    box = row.boxes[0]
    assert box.x == pytest.approx(across(540), abs=0.01)
    assert box.right == pytest.approx(across(570), abs=0.02)
    assert box.middle_y == pytest.approx(row.lines[0].start.y)


def test_days_lie_under_each_other_without_overlap() -> None:
    strip = week_strip([day(block(540, 570)), day(), day(block(540, 570, "3"))], PLACES)
    for above, below in zip(strip.rows, strip.rows[1:], strict=False):
        assert above.bottom == pytest.approx(below.top)
    assert strip.rows[-1].bottom + WEEK.bottom == pytest.approx(strip.height)


# --- buildings and drives ----------------------------------------------------------------------------------


def test_only_buildings_of_the_day_get_a_line_and_a_long_road_pulls_lines_apart() -> None:
    near = week_strip([day(block(480, 510), drives=(drive(510, 530, 12, 3),))], PLACES).rows[0]
    assert [line.name for line in near.lines] == ["Hollow School", "Birch School"]
    assert near.lines[1].start.y - near.lines[0].start.y == pytest.approx(WEEK.lane + 5)
    far = week_strip([day(block(480, 510), drives=(drive(510, 560, 42, 3, "1", "3"),))], PLACES).rows[0]
    assert far.lines[1].start.y - far.lines[0].start.y == pytest.approx(WEEK.lane + WEEK.stretch)


def test_a_drive_slopes_only_while_at_the_wheel() -> None:
    row = week_strip([day(block(480, 510), block(535, 565, "2"), drives=(drive(510, 530, 12, 3),))], PLACES).rows[0]
    kinds = [piece.kind for piece in row.path]
    assert kinds == ["busy", "parking", "drive", "parking", "busy", "busy"]
    slope = row.path[2]
    assert slope.start.x == pytest.approx(across(513), abs=0.01)
    assert slope.end.x == pytest.approx(across(525), abs=0.01)
    assert (slope.start.y, slope.end.y) == (row.lines[0].start.y, row.lines[1].start.y)
    assert slope.label is not None
    assert slope.label.text == "12"
    assert not slope.heavy
    for piece in (row.path[1], row.path[3]):
        assert piece.start.y == piece.end.y


def test_the_path_has_no_break() -> None:
    row = week_strip(
        [day(block(480, 510), block(600, 630, "2"), block(640, 670, "2"), drives=(drive(520, 540, 12, 3),))], PLACES
    ).rows[0]
    for before, after in zip(row.path, row.path[1:], strict=False):
        assert before.end == after.start


def test_a_drive_of_twenty_minutes_or_more_is_heavy() -> None:
    row = week_strip([day(drives=(drive(500, 528, 20, 3), drive(600, 627, 19, 3, "2", "1")))], PLACES).rows[0]
    assert [piece.heavy for piece in row.path if piece.kind == "drive"] == [True, False]


def test_a_stay_with_nothing_in_it_is_idle_from_twenty_minutes() -> None:
    dead = week_strip([day(block(480, 510), block(570, 600))], PLACES).rows[0]
    assert [piece.kind for piece in dead.path] == ["busy", "idle", "busy"]
    assert dead.path[1].label is not None
    assert dead.path[1].label.text == "60 min free"
    busy = week_strip([day(block(480, 510), block(529, 600))], PLACES).rows[0]
    assert [piece.kind for piece in busy.path] == ["busy", "busy", "busy"]


def test_lunch_without_a_place_stands_where_the_teacher_is() -> None:
    lunch = block(700, 730, "", BlockKind.LUNCH)
    after = settled(day(block(480, 510), lunch, drives=(drive(600, 630, 20, 3),)))
    assert [one.place for one in after] == ["1", "2"]
    before = settled(day(lunch, block(800, 830, "3")))
    assert [one.place for one in before] == ["3", "3"]


def test_the_spare_line_takes_targets_in_other_buildings() -> None:
    target = Target("0", 600, 630, "3", ("TARN +6", "+6"), "spoken", "?option=0")
    row = week_strip([day(block(480, 510), targets=(target,))], PLACES, spare=True).rows[0]
    assert [line.spare for line in row.lines] == [False, True]
    assert row.targets[0].middle_y == pytest.approx(row.lines[1].start.y)
    assert row.targets[0].text == "TARN +6"


def test_an_editors_lines_stay_where_they_are_when_targets_appear() -> None:
    """Otherwise the session would slip away under the mouse."""
    target = Target("0", 600, 630, "3", ("+6",), "spoken")
    still = week_strip([day(block(480, 510))], PLACES, spare=True)
    moving = week_strip([day(block(480, 510), targets=(target,))], PLACES, spare=True)
    assert still.rows[0].lines == moving.rows[0].lines
    assert still.rows[0].boxes == moving.rows[0].boxes


# --- one day, time running down ----------------------------------------------------------------------------


def test_a_single_day_runs_down_with_a_column_a_building() -> None:
    strip = day_strip(day(block(480, 510), block(540, 570, "2"), drives=(drive(510, 530, 12, 3),)), PLACES)
    row = strip.rows[0]
    column = (DAY.width - DAY.left - DAY.right) / 2
    assert row.boxes[0].y == pytest.approx(DAY.top)
    assert row.boxes[1].y == pytest.approx(DAY.top + 60 * DAY.per_minute)
    assert row.boxes[0].height == pytest.approx(30 * DAY.per_minute)
    assert row.boxes[1].middle_x - row.boxes[0].middle_x == pytest.approx(column, abs=0.02)
    assert all(box.x >= 0 and box.right <= DAY.width for box in row.boxes)


def test_names_of_five_buildings_do_not_run_into_each_other() -> None:
    """Where not even the shortest name has room above its column, it ends with an ellipsis."""
    places = tuple(StripPlace(str(n), "Brackenmere", ("Brackenmere",), float(n)) for n in range(5))
    stays = [block(480 + 30 * n, 510 + 30 * n, str(n)) for n in range(5)]
    lines = day_strip(day(*stays), places).rows[0].lines
    column = (DAY.width - DAY.left - DAY.right) / 5
    assert all(text_width(line.label.text, DAY.font) < GENEROUS * column for line in lines)
    assert all(line.label.text.startswith("Brack") and line.label.text.endswith("…") for line in lines)


def test_an_empty_day_can_be_drawn_both_ways() -> None:
    empty = StripDay("2026-09-14", "Mon", "Sep 14", nothing="Closed")
    assert week_strip([empty], PLACES).rows[0].boxes == ()
    assert day_strip(empty, PLACES).rows[0].path == ()


@pytest.mark.parametrize("frame", [WEEK, WALL])
@pytest.mark.parametrize("notes", [(), ("Off",), ("A · Day 3", "Off")])
def test_closed_days_in_a_row_keep_their_words_to_themselves(frame: Frame, notes: tuple[str, ...]) -> None:
    """The last line beside a day stands, with its descenders, above the line that divides it from the next one."""
    closed = StripDay("2026-12-24", "Thu", "Dec 24", notes=notes, nothing="Winter Recess")
    first, second = week_strip([closed, closed], PLACES, frame).rows
    last = note_line(first.top, len(notes)) if notes else first.top + 26
    assert last + frame.font / 4 < second.top
    assert first.top + frame.font < first.middle < second.top - frame.font


# --- words -------------------------------------------------------------------------------------------------


def test_clock_reads_as_on_a_school_wall() -> None:
    assert [clock(minute) for minute in (0, 485, 720, 785)] == ["12:00", "8:05", "12:00", "1:05"]


def test_labels_shorten_to_what_fits() -> None:
    assert fitting(("Ola Tarn", "Ola", "OT"), 1000, 10) == "Ola Tarn"
    assert fitting(("Ola Tarn", "Ola", "OT"), 25, 10) == "Ola"
    assert fitting(("Ola Tarn",), 5, 10) == ""
    assert cut("Multipurpose", 40, 10).endswith("…")
    assert cut("Room", 5, 10) == ""


def test_building_names_are_shortened_only_while_they_tell_buildings_apart() -> None:
    names = ["North Hollow School", "North Hollow Annex", "Tarn Middle School"]
    assert school_labels(names[0], names) == ("North Hollow School", "N. H. School")
    assert school_labels(names[2], names) == ("Tarn Middle School", "Tarn Middle", "Tarn")
    assert short_school_names(dict(enumerate(names))) == {0: names[0], 1: names[1], 2: "Tarn"}


# --- the road ----------------------------------------------------------------------------------------------


def test_straight_distance_is_near_the_geodesic() -> None:
    """Flinders Peak to Buninyong: 54972.271 m (Geoscience Australia, the Vincenty worked example)."""
    miles = miles_apart((-37.951033, 144.424868), (-37.652821, 143.926496))
    assert miles == pytest.approx(54972.271 / 1609.344, rel=0.01)


def test_buildings_follow_the_road_from_north_to_south() -> None:
    places = {"a": (43.0, -75.0), "b": (43.3, -75.0), "c": (43.1, -75.0), "d": (43.2, -75.01)}
    order = road_order(places)
    assert [key for key, _ in order] == ["b", "d", "c", "a"]
    assert [along for _, along in order] == sorted(along for _, along in order)
    assert order[-1][1] == pytest.approx(0.3 * 69, rel=0.02)
    assert road_order({}) == []


# --- from a week -------------------------------------------------------------------------------------------

MONDAY = dt.date(2026, 9, 14)
PUPIL = AttendeeView(1, 1, "S01", "Ola Tarn", "3", short="Ola", tight="OT")


def session_view(attendees: tuple[AttendeeView, ...] = (PUPIL,), class_name: str = "") -> SessionView:
    """A session at nine in the north."""
    return SessionView(
        uid="u1", date=MONDAY, start=dt.time(9), end=dt.time(9, 30), start_minute=540, end_minute=570,
        building_id=1, building_code="NORTH", building_name="North Hollow School", space_id=1, space_name="Gym",
        setting="one_to_one", setting_label="One to one", class_name=class_name, period="2", cycle_day="",
        pinned=False, label="S01", attendees=attendees,
    )  # fmt: skip


def drive_view() -> ItemView:
    """A drive of 18 minutes from packing up to being signed in."""
    return ItemView(
        kind="drive", kind_label="Drive", date=MONDAY, start=dt.time(10), end=dt.time(10, 18), start_minute=600,
        end_minute=618, origin_id=1, origin_code="NORTH", building_id=2, building_code="SOUTH", drive_minutes=10,
        miles=Decimal("6.2"),
    )  # fmt: skip


def week_detail(*, students_shown: bool = True) -> WeekDetail:
    """A week with one session and one drive on its Monday, and an empty Saturday."""
    session, item = session_view() if students_shown else session_view(()), drive_view()
    monday = DayDetail(
        date=MONDAY, works=True, reason="", contract_start_minute=465, contract_end_minute=930, buildings=(),
        sessions=(session,), items=(item,), entries=(session, item),
    )  # fmt: skip
    saturday = DayDetail(
        date=MONDAY + dt.timedelta(days=5), works=False, reason="", contract_start_minute=None,
        contract_end_minute=None, buildings=(), sessions=(), items=(), entries=(),
    )  # fmt: skip
    return WeekDetail(
        week_id=1, teacher_id=1, teacher_name="T", monday=MONDAY, last_date=MONDAY + dt.timedelta(days=6),
        status="draft", status_label="Draft", version=None, revision=1, name="", published_by="", published_at=None,
        created_by="T", created_at=dt.datetime(2026, 9, 1, tzinfo=dt.UTC), based_on_id=None,
        days=(monday, saturday), places=(PlaceView(1, "NORTH", "North"), PlaceView(2, "SOUTH", "South")),
        unplaced=(), goals=(), sessions_placed=1, minutes_placed=30, minutes_owed=60, drive_minutes=10,
        miles=Decimal("6.2"), broken=(), no_longer_fits=(), notes=(), changes=(), students_shown=students_shown,
        may_edit=True, can_undo=False,
    )  # fmt: skip


FACTS = {1: BuildingFacts(43.1, -75.2, 3), 2: BuildingFacts(43.0, -75.2, 3)}


def test_a_week_becomes_days_with_blocks_and_drives() -> None:
    days = strip_days(week_detail(), FACTS, link=lambda uid: f"?session={uid}")
    assert [one.name for one in days] == ["Mon"]
    (first,) = days[0].blocks
    assert (first.start, first.end, first.place, first.href) == (540, 570, "1", "?session=u1")
    assert first.labels[0] == "Ola Tarn"
    (trip,) = days[0].drives
    assert (trip.origin, trip.destination, trip.wheel, trip.leave) == ("1", "2", 10, 3)
    assert "30 min taught" in days[0].notes
    assert [place.key for place in strip_places(week_detail().places, FACTS)] == ["1", "2"]


@pytest.mark.parametrize(("students_shown", "names"), [(False, True), (True, False)])
def test_no_name_is_drawn_where_names_are_off(students_shown: bool, names: bool) -> None:
    days = strip_days(week_detail(students_shown=students_shown), FACTS, names=names)
    assert not [
        text
        for one in days
        for b in one.blocks
        for text in (*b.labels, b.spoken)
        if "Ola" in text or "Tarn" in text
    ]


def test_a_group_shortens_from_first_names_to_a_number() -> None:
    others = (PUPIL, AttendeeView(2, 2, "S02", "Rae Moss", "3", short="Rae", tight="RM"))
    assert session_labels(session_view(others), names=True) == ("Ola, Rae", "OT RM", "2 students", "2")
    assert session_labels(session_view((AttendeeView(3, 3, "S03", "", "2"),)), names=True)[0] == "S03"
    assert session_labels(session_view(others, "Room 4"), names=False) == ("Room 4",)


def option(start: dt.time, space: str, *breaks: str, drive_more: int = 4) -> SessionOption:
    """An option on the Monday in the south."""
    end = dt.time(start.hour, start.minute + 30)
    return SessionOption(
        MONDAY, start, end, 2, "SOUTH", 5, space, "3", drive_more, breaks, False, "South Tarn School", "South"
    )


def test_of_several_spaces_at_one_moment_the_legal_one_is_the_target() -> None:
    choice = StripChoice(
        "u1", (option(dt.time(9), "Field", "The field is closed."), option(dt.time(9), "Gym")), lambda n: f"?o={n}"
    )
    targets = strip_days(week_detail(), FACTS, choice=choice)[0].targets
    assert [(one.key, one.warns, one.labels[-1], one.href) for one in targets] == [("1", False, "+4", "?o=1")]


def test_added_minutes_carry_their_sign_and_are_said_in_words() -> None:
    assert [added(minutes) for minutes in (6, 0, -3)] == ["+6", "+0", "\N{MINUS SIGN}3"]
    assert option_words(option(dt.time(13, 0), "Gym", drive_more=-3)) == (
        "Monday 1:00 to 1:30 (Period 3), South Tarn School, Gym: 3 fewer drive minutes"
    )


@pytest.mark.parametrize(
    ("seen", "said", "spoken"),
    [
        ("Ola", "Monday 9:00 to 9:30, Ola Tarn", "Ola: Monday 9:00 to 9:30, Ola Tarn"),
        ("O.T.", "Monday 9:00 to 9:30, Ola Tarn", "9:00 O.T.: Monday 9:00 to 9:30, Ola Tarn"),
        ("", "Monday 9:00 to 9:30, Ola Tarn", "Monday 9:00 to 9:30, Ola Tarn"),
    ],
)
def test_what_is_said_has_the_words_that_are_seen(seen: str, said: str, spoken: str) -> None:
    """WCAG 2.2, success criterion 2.5.3 (Label in Name): the name contains the text that is presented visually."""
    source = replace(block(540, 570), spoken=said)
    above = "9:00" if seen == "O.T." else ""
    assert Box(0, 0, 10, 10, seen, source, two_lines=True, above=above).spoken == spoken


def test_a_week_cut_down_to_a_building_says_nothing_about_the_time_between() -> None:
    blocks = (block(480, 510), block(600, 630))
    cut_down = StripDay("2026-09-14", "Mon", "Sep 14", blocks=blocks, whole=False)
    assert [piece.kind for piece in week_strip([cut_down], PLACES).rows[0].path] == ["busy", "busy"]
    assert not any(one.whole for one in strip_days(week_detail(students_shown=False), FACTS))


def test_a_target_that_breaks_a_rule_carries_a_sign_and_the_first_rule() -> None:
    choice = StripChoice("u1", (option(dt.time(13), "Gym", "No lunch.", "Too close."),), lambda n: "")
    (target,) = strip_days(week_detail(), FACTS, choice=choice)[0].targets
    assert target.warns
    assert target.labels[-1] == "! +4"
    assert target.spoken.endswith("It breaks a rule: No lunch. (and 1 more)")
    assert target.value == "2026-09-14|13:00|5"
