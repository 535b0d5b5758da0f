"""What a term's run says while it searches and of what it found: whether it is worth searching on."""

import pytest

from schedule.terms.words import FIRST_TERM, doing_words, found_words, later_words, way_words


@pytest.mark.parametrize(
    ("left", "least", "cut", "said"),
    [
        (0, 500, False, "Everything owed has a time. No weeks that place as much drive less."),
        (0, None, True, "Everything owed has a time. How much driving could still be saved isn't known"),
        (
            30,
            470,
            False,
            "30 owed minutes have no time. 30 more minutes of driving over the term could be saved at",
        ),
        (0, 430, False, "at most, about 7 a week, by leaving usual times."),
        (0, 495, True, "at most, less than one a week, by searching on or by leaving usual times."),
    ],
)
def test_what_was_found_says_what_more_there_could_be(left: int, least: int | None, cut: bool, said: str) -> None:
    """500 minutes of driving in ten weeks."""
    assert said in found_words(left=left, driving=500, least=least, weeks=10, cut=cut)


def test_a_search_says_what_stopping_it_keeps() -> None:
    assert doing_words("the plain week", 0, 10, has_first=False) == "Making a timetable for a plain week."
    assert doing_words("the week of 2026-09-14", 2, 10, has_first=True) == (
        "Fitting week 3 of 10 to the timetable. A whole term is found: stopping keeps the best so far."
    )
    disturbed = "a timetable that suits the weeks which the calendar disturbs"
    assert doing_words(disturbed, 0, 10, has_first=False) == "Weighing weeks in which days fall out."
    assert doing_words("done", 10, 10, has_first=True).startswith("Every week is fitted.")
    assert doing_words(FIRST_TERM, 10, 10, has_first=False) == "Every week is fitted."


def test_a_way_says_what_is_proved_and_what_ended_it() -> None:
    """Fewest moves may be proved where least driving of them isn't; a clock that ended it is said."""
    proved = way_words("fewest_moves", proved=True, left=2, fewest=2, ended="proof")
    assert proved == "Proved: no way that places as much moves fewer. Of those that move as few, none drives less."
    half = way_words("fewest_moves", proved=False, left=2, fewest=2, ended="effort")
    assert half.startswith("Proved: no way that places as much moves fewer. One that moves as few may drive less.")
    open_ended = way_words("fewest_moves", proved=False, left=3, fewest=1, ended="clock")
    assert "At least 1 of these 3 have to move" in open_ended
    assert "Time ran out" in open_ended
    nothing_known = way_words("fewest_moves", proved=False, left=3, fewest=0, ended="clock")
    assert nothing_known.startswith("Whether fewer could move isn't known. Time ran out")
    later = way_words("starts_later", proved=True, left=2, fewest=2, ended="proof")
    assert later.startswith("Proved: from then on no way that places as much moves fewer.")
    assert later_words(2, fewest=4) == "2 fewer sessions move for good than at once."
    assert later_words(2, fewest=2) == "As many sessions move as at once, and none before it has to."
    assert later_words(1, fewest=0).startswith("More sessions move for good than at once, and fewer are elsewhere")
    assert "Proved" not in way_words("least_driving", proved=False, left=3, fewest=1, ended="person")
