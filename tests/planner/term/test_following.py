"""A timetable that changes from a week on: where a service begins or ends, with the fewest moves, said once."""

import random
from dataclasses import replace

import pytest

from schedule.planner.problem import Goal, Pin, Service
from schedule.planner.term.expected import against, expected_in
from schedule.planner.term.following import changes_only, standing_in, stretches, timetables_of
from schedule.planner.term.judge import check_term
from schedule.planner.term.kinds import Found
from schedule.planner.term.memory import TermMemory, memory_from_json
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable, Term, TermWeek
from tests.planner.brute import best_figures
from tests.planner.term.builders import ann, at, week

TIGHT = ann(at(540), at(570))
CAL = ann(at(540), at(570), name="cal")
BEN = ann(at(660, "b"), name="ben")
TUESDAYS = ann(at(540, "b", "tue"), name="tess")


def nearest(one: TermWeek, standing: StandingTimetable) -> Found:
    """The week that leaves fewest usual times."""
    (planned,) = plan_term(Term((one,), standing), workers=1).weeks
    return Found(planned.itinerary, planned.figures, planned.proved)


def begins_in_the_fourth() -> tuple[TermWeek, ...]:
    """Three weeks without Cal, three with."""
    return (*(week(number, TIGHT, BEN) for number in (1, 2, 3)), *(week(n, TIGHT, BEN, CAL) for n in (4, 5, 6)))


def test_a_stretch_begins_where_a_service_does_and_lasts() -> None:
    """Cal in weeks 4 to 6 makes two stretches; once only, or in the last week alone, none."""
    weeks = begins_in_the_fourth()
    assert [[one.id for one in mine] for mine in stretches(weeks)] == [
        ["2026-09-07", "2026-09-14", "2026-09-21"],
        ["2026-09-28", "2026-09-35", "2026-09-42"],
    ]
    assert len(stretches(weeks[:4])) == 1
    once = [week(1, TIGHT), week(2, TIGHT, CAL), week(3, TIGHT)]
    assert len(stretches(once)) == 1


def test_what_moves_from_a_week_on_is_said_once() -> None:
    """Ann has stood at 9:00, and from the fourth week Cal can come then only: Ann moves for good, nobody else."""
    weeks = tuple(
        week(number, TIGHT, BEN, *([] if number < 4 else [ann(at(540), name="cal")])) for number in range(1, 7)
    )
    ann_stands, ben = StandingSession("ann", "monday", 540, "a"), StandingSession("ben", "monday", 660, "b")
    before = StandingTimetable((ann_stands, ben))

    first, second = changes_only(timetables_of(weeks, before, nearest))
    assert (first.since, first.standing) == ("2026-09-07", before)
    assert second.since == "2026-09-28"
    assert second.proved
    assert set(second.standing.sessions) == {
        ben,
        replace(ann_stands, at=570),
        StandingSession("cal", "monday", 540, "a"),
    }
    assert standing_in("2026-09-21", before, [second]) == before
    assert standing_in("2026-09-42", before, [second]) == second.standing


def test_what_finds_no_place_stands_on_and_is_missed_each_week() -> None:
    """Two that have one time between them: the one left over isn't forgotten."""
    weeks = [week(number, ann(at(540)), ann(at(540), name="ben")) for number in (1, 2)]
    both = StandingTimetable(tuple(StandingSession(unit, "monday", 540, "a") for unit in ("ann", "ben")))
    (found,) = timetables_of(weeks, both, nearest)
    assert found.standing == both


def test_a_term_in_force_with_a_change_is_kept_and_judged() -> None:
    """Each week is held against what stands then, and a change where no service begins or ends is refused."""
    weeks = begins_in_the_fourth()
    ben = StandingSession("ben", "monday", 660, "b")
    first = StandingTimetable((StandingSession("ann", "monday", 540, "a"), ben))
    second = StandingTimetable(
        (StandingSession("ann", "monday", 570, "a"), StandingSession("cal", "monday", 540, "a"), ben)
    )
    term = Term(weeks, first, later=(LaterTimetable("2026-09-28", second),))
    found = plan_term(term, workers=1)
    assert (found.sessions, found.kept) == (15, 15)
    assert not any(one.departures for one in found.weeks)
    assert found.later == term.later
    made_here = replace(term, standing=None, later=())
    assert check_term(made_here, found) == ()
    wrong = replace(found, later=(LaterTimetable("2026-09-21", second),))
    assert "2026-09-21, where no service" in " ".join(one.text for one in check_term(made_here, wrong))


# ---- where days rotate -----------------------------------------------------------------------------------


def rotates(number: int) -> dict[str, str]:
    """Which cycle days a week's Monday and Tuesday are in North, where three of them take turns."""
    return {day: f"Day {(2 * (number - 1) + place) % 3 + 1}" for place, day in enumerate(("mon", "tue"))}


def eve(number: int, *minutes: int, name: str = "eve") -> Service:
    """Once in each week, on whichever cycle day, at these minutes."""
    keys = rotates(number)
    return ann(*(at(m, day=day, pattern_key=keys[day]) for m in minutes for day in keys), name=name)


def stands_on_each_day(unit: str, minute: int) -> list[StandingSession]:
    return [StandingSession(unit, f"Day {one}", minute, "a") for one in (1, 2, 3)]


def test_on_rotating_days_what_no_week_keeps_moves_for_good() -> None:
    """Eve stands at 9:00 on each cycle day; from the fourth week on North has that time no more, only 10:00."""
    early = [week(number, eve(number, 540, 600), BEN) for number in (1, 2, 3)]
    late = [week(number, eve(number, 600), BEN, TUESDAYS) for number in (4, 5, 6)]
    ben = StandingSession("ben", "monday", 660, "b")
    before = StandingTimetable((*stands_on_each_day("eve", 540), ben))
    first, second = changes_only(timetables_of([*early, *late], before, nearest))
    assert (first.standing, second.since) == (before, "2026-09-28")
    assert {one.at for one in second.standing.sessions if one.unit == "eve" and one not in before.sessions} == {600}
    assert ben in second.standing.sessions
    for one in late:
        assert all(other.open for other in expected_in(one, second.standing))


def test_a_term_on_rotating_days_changes_where_a_service_begins() -> None:
    """Eve can come at 9:00 only, until Cal takes that time on both days from the fourth week on."""
    early = [week(number, eve(number, 540), BEN) for number in (1, 2, 3)]
    cal = ann(at(540), at(540, day="tue"), name="cal", sessions=2)
    late = [week(number, eve(number, 540, 600), BEN, cal) for number in (4, 5, 6)]
    term = Term((*early, *late))
    found = plan_term(term, workers=1)
    (later,) = found.later
    assert (later.since, found.sessions, found.kept, found.unplaced) == ("2026-09-28", 18, 18, 0)
    assert {one.at for one in found.standing.sessions if one.unit == "eve"} == {540}
    assert 600 in {one.at for one in later.standing.sessions if one.unit == "eve"}
    assert found.bound_with_rotation is None
    assert check_term(term, found) == ()


def test_on_rotating_days_what_one_week_cannot_keep_is_its_exception() -> None:
    """Cal takes Monday 9:00 from the fourth week on. Eve's Day 1 falls on a Tuesday, too; her Day 2 only on Mondays
    when it is her turn."""
    weeks = [week(n, eve(n, 540, 600), *([ann(at(540), name="cal")] if n >= 4 else []), BEN) for n in range(1, 10)]
    before = StandingTimetable(
        (
            *stands_on_each_day("eve", 540),
            StandingSession("ben", "monday", 660, "b"),
            StandingSession("cal", "monday", 540, "a"),
        )
    )
    _, second = changes_only(timetables_of(weeks, before, nearest))
    gone = set(before.sessions) - set(second.standing.sessions)
    assert {one.pattern_key for one in gone} == {"Day 2"}


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20))
def test_what_moves_for_good_is_what_no_week_could_keep(seed: int) -> None:
    """Random tiny rotations against every plan of every week: nothing moves that could stay, and moving helps."""
    rng = random.Random(seed)  # noqa: S311 - test data, no secret
    taken = rng.choice(
        [((540, "mon"),), ((540, "mon"), (540, "tue")), ((570, "tue"),), ((600, "mon"), (600, "tue"))]
    )
    cal = ann(*(at(minute, day=day) for minute, day in taken), name="cal", sessions=len(taken))
    minutes = rng.sample([540, 570, 600], 2)
    weeks = [week(n, eve(n, *minutes), BEN, *([cal] if n >= 4 else [])) for n in range(1, 7)]
    stands = [
        StandingSession("cal", {"mon": "monday", "tue": "tuesday"}[day], minute, "a") for minute, day in taken
    ]
    before = StandingTimetable(
        (*stands_on_each_day("eve", minutes[0]), StandingSession("ben", "monday", 660, "b"), *stands)
    )
    found = list(timetables_of(weeks, before, nearest))
    for one, mine in zip(found, stretches(weeks), strict=True):
        gone = set(before.sessions) - set(one.standing.sessions)
        for left in gone:
            assert not any(_could_keep(this, before, left) for this in mine)
        assert sum(_missed(this, one.standing) for this in mine) <= sum(_missed(this, before) for this in mine)
        assert bool(gone) == (one.standing != before)
        before = one.standing


def _missed(one: TermWeek, standing: StandingTimetable) -> int:
    """Of every plan of the week that places most: the fewest sessions that aren't where they stand."""
    problem = replace(against(one, standing), goals=(Goal.UNPLACED, Goal.CHANGE))
    best = best_figures(problem)
    assert best is not None
    return best[1] + sum(not other.open for other in expected_in(one, standing))


def _could_keep(one: TermWeek, standing: StandingTimetable, session: StandingSession) -> bool:
    """Whether some plan of the week that places most and leaves fewest keeps this one."""
    expected = {other.standing: other for other in expected_in(one, standing)}
    if session not in expected or not expected[session].open:
        return False
    problem = replace(against(one, standing), goals=(Goal.UNPLACED, Goal.CHANGE))
    mine = expected[session].session
    assert mine is not None
    kept = replace(problem, pins=(*problem.pins, Pin(mine.unit, mine.day, mine.at, mine.place)))
    return best_figures(kept) == best_figures(problem)


def test_a_run_that_goes_on_knows_the_later_timetables() -> None:
    """They are kept with the first, and read again."""
    later = (LaterTimetable("2026-09-28", StandingTimetable((StandingSession("ann", "monday", 570, "a"),)), True),)
    memory = TermMemory()
    memory.settle(StandingTimetable(), later)
    assert memory_from_json(memory.as_json(1.0)).later == later


def test_one_timetable_that_cannot_be_changes_where_the_service_begins() -> None:
    """Ann can come at 9:00 only, and at 10:00 from the fourth week on, when Cal takes 9:00."""
    early = [week(number, ann(at(540)), BEN) for number in (1, 2, 3)]
    late = [week(number, ann(at(540), at(600)), BEN, ann(at(540), name="cal")) for number in (4, 5, 6)]
    found = plan_term(Term((*early, *late)), workers=1)
    (later,) = found.later
    assert (later.since, found.sessions, found.kept) == ("2026-09-28", 15, 15)
    assert {one.at for one in found.standing.sessions if one.unit == "ann"} == {540}
    assert {one.at for one in later.standing.sessions if one.unit == "ann"} == {600}
