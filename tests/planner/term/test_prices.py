"""What the search for a timetable charges: sessions that stand nowhere, minutes left over, wishes missed."""

from dataclasses import replace

from schedule.planner.problem import Service
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.template.board import TermBoard
from schedule.planner.term.template.loose import price
from schedule.planner.term.term import StandingSession, TermWeek, UnusualDay
from tests.planner.term.builders import ann, at, week

WORTH = 60
ANN = StandingSession("ann", "monday", 540, "a")


def priced(weeks: list[TermWeek], sessions: list[StandingSession], *, seated: bool = True) -> int:
    """The price of a term with these sessions; ``seated``: or of the same weeks with none of them standing."""
    state = TermState([AlikeWeeks.of(one, 1) for one in weeks], WORTH)
    for one in sessions:
        state.put(one)
    board = TermBoard(state.kinds, sessions, WORTH)
    held = board.read(state.filled())
    if not seated:
        held.slots[:], held.stands[:] = -1, 0
    return int(price(board.board, held))


def test_a_session_that_stands_nowhere_is_charged_in_each_week_that_owes_it() -> None:
    """It is held at the same time as before, but as one of which nobody can say when it comes."""
    weeks = [week(1, ann(at(540))), week(2, ann(at(540)))]
    assert priced(weeks, [ANN], seated=False) - priced(weeks, [ANN]) == 2 * WORTH


def test_a_session_whose_day_is_closed_stands_all_the_same() -> None:
    """What the calendar takes is no fault of the timetable: on Tuesday that week it costs what it drives."""
    closed = UnusualDay("a", "monday", "no school")
    weeks = [week(1, ann(at(540), at(600, day="tue"))), week(2, ann(at(600, day="tue")), unusual=(closed,))]
    assert priced(weeks, [ANN]) == 0


def test_where_more_stand_than_a_week_owes_the_first_are_its_usual_times() -> None:
    """Ann owes one; she stands on Monday, and on Tuesday for weeks without one. Held on Tuesday she has left."""
    tuesday = StandingSession("ann", "tuesday", 600, "a")
    weeks = [week(1, ann(at(540), at(600, day="tue")))]
    state = TermState([AlikeWeeks.of(one, 1) for one in weeks], WORTH)
    state.put(tuesday)
    board = TermBoard(state.kinds, [ANN, tuesday], WORTH)
    assert int(price(board.board, board.read(state.states))) == WORTH
    assert priced(weeks, [ANN, tuesday]) == 0


def test_the_longer_of_two_sessions_left_over_costs_more() -> None:
    """As in a week, where minutes without a place are counted, and not sessions."""
    short, long = Service("short", 20, 1, (at(540),)), Service("long", 40, 1, (at(540),))
    costs = {
        one: priced([week(1, short, long)], [StandingSession(one, "monday", 540, "a")]) for one in ("short", "long")
    }
    assert costs["long"] < costs["short"]


def test_what_is_owed_is_dearer_to_leave_over_than_all_the_preparation_it_takes() -> None:
    """Ann's half hour leaves none of the 45 minutes of preparation in a morning of 75."""
    plain = week(1, ann(at(510)))
    days = tuple(replace(day, end=555, preparation_minutes=45) for day in plain.problem.days)
    wishing = TermWeek(plain.id, replace(plain.problem, days=days))
    standing = replace(ANN, at=510)
    kinds = [AlikeWeeks.of(wishing, 1)]
    board = TermBoard(kinds, [standing], WORTH)
    state = TermState(kinds, WORTH)
    without = int(price(board.board, board.read(state.states)))
    state.put(standing)
    assert int(price(board.board, board.read(state.states))) < without
