"""A session stands once where that is as good as standing here until a day and there from then on."""

from schedule.planner.term.choice.spare import without_spare
from schedule.planner.term.plan import plan_term
from schedule.planner.term.shared import AlikeWeeks, TermState
from schedule.planner.term.term import StandingSession, Term, TermWeek
from tests.planner.term.builders import ann, at, week

MONDAY, TUESDAY = at(540), at(540, day="tue")


def stands(key: str, unit: str = "ann") -> StandingSession:
    """At 9:00 in the first school."""
    return StandingSession(unit, key, 540, "a")


def of(weeks: list[TermWeek], *sessions: StandingSession) -> TermState:
    """These sessions in these weeks."""
    state = TermState([AlikeWeeks.of(one, 1) for one in weeks], 60)
    for one in sessions:
        state.put(one)
    return state


def freed_later(mondays_first: int) -> list[TermWeek]:
    """Ann can't be taken on Mondays until the third week; Tuesdays always."""
    return [week(number, ann(TUESDAY)) for number in (1, 2)] + [
        week(number, ann(MONDAY, TUESDAY)) for number in range(3, 3 + mondays_first)
    ]


def test_who_can_stay_stays() -> None:
    """Tuesdays serve every week, so the Mondays from the third week on aren't wanted."""
    state = of(freed_later(2), stands("monday"), stands("tuesday"))
    assert without_spare(state).sessions == [stands("tuesday")]


def test_a_term_has_one_time_for_who_meets_once() -> None:
    """Though four of six weeks have a Monday, and the plain week so chooses freely."""
    found = plan_term(Term(tuple(freed_later(4))), effort=1, time_limit=60)
    assert [one.pattern_key for one in found.standing.sessions] == ["tuesday"]


def test_each_time_stands_that_some_week_needs() -> None:
    """On Tuesdays only until the third week and on Mondays only from then on: both stand."""
    weeks = [*(week(number, ann(TUESDAY)) for number in (1, 2)), *(week(number, ann(MONDAY)) for number in (3, 4))]
    state = of(weeks, stands("monday"), stands("tuesday"))
    assert len(without_spare(state).sessions) == 2


def test_a_second_time_stays_where_it_saves_driving() -> None:
    """Ben is in the second school on Tuesdays of the last weeks: Ann's Mondays save a drive there."""
    ben = ann(at(600, "b", "tue"), name="ben")
    weeks = [
        *(week(number, ann(TUESDAY)) for number in (1, 2)),
        *(week(number, ann(MONDAY, TUESDAY), ben) for number in (3, 4)),
    ]
    state = of(weeks, stands("monday"), stands("tuesday"), StandingSession("ben", "tuesday", 600, "b"))
    assert len(without_spare(state).sessions) == 3
