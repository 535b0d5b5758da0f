"""A timetable that changes from a week on: where a service begins or ends, with the fewest moves, said once."""

from dataclasses import replace

from schedule.planner.term.following import changes_only, standing_in, stretches, timetables_of
from schedule.planner.term.judge import check_term
from schedule.planner.term.kinds import Found
from schedule.planner.term.memory import TermMemory, memory_from_json
from schedule.planner.term.plan import plan_term
from schedule.planner.term.term import LaterTimetable, StandingSession, StandingTimetable, Term, TermWeek
from tests.planner.term.builders import ann, at, week

TIGHT = ann(at(540), at(570))
CAL = ann(at(540), at(570), name="cal")
BEN = ann(at(660, "b"), name="ben")


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
