"""Goals as plans write them: what each is read as, which are asked about, and which can't be read.

The texts are our own. What each means is common practice; that it is to be measurable, 34 CFR 300.320(a)(2).
"""

from decimal import Decimal

import pytest

from caseload.progress.measures import Measure, Wanted
from caseload.progress.reading import GoalReading, goal_readings

M = Measure


def told(one: GoalReading) -> str:
    """A reading in one line: measure, sign, criterion, then what else it says."""
    sign = ">=" if one.wanted is Wanted.MORE else "<="
    parts = [f"{one.measure} {sign} {one.criterion.normalize():f}"]
    parts += [f"of {one.trials}"] if one.trials else []
    parts += [one.distance_unit] if one.distance_unit else []
    parts += [f"from {one.baseline}"] if one.baseline is not None else []
    parts += [f"levels {one.level_count}"] if one.level_count else []
    parts += [f"sessions {one.sessions}"] if one.sessions else []
    parts += [f"among {one.sessions_of}"] if one.sessions_of else []
    return " ".join(parts)


ONE = {
    "Given a verbal cue, will catch a ball in 4 of 5 trials over 3 consecutive sessions.": (
        "trials >= 4 of 5 sessions 3"
    ),
    "throw overhand from 10 feet in four out of five attempts, across 3 of 4 sessions": (
        "trials >= 4 of 5 sessions 3 among 4"
    ),
    "kick a ball 7/10 times on two consecutive data days": "trials >= 7 of 10 sessions 2",
    "stand on one foot for 10 seconds in 3/5 opportunities": "trials >= 3 of 5",
    "follow two-step directions with 80% accuracy (4/5 trials)": "trials >= 4 of 5",
    "80 % over three sessions": "percent >= 80 sessions 3",
    "Eighty percent over three sessions": "percent >= 80 sessions 3",
    "will improve from 20% to 75% accuracy": "percent >= 75 from 20",
    "line up on the cue in 4 of 5 sessions": "trials >= 1 of 1 sessions 4 among 5",
    "stand on one foot for 10 seconds": "seconds >= 10",
    "line up within 30 seconds of the whistle": "seconds <= 30",
    "run the mile in 12 minutes or less": "seconds <= 720",
    "run a lap in 90 seconds or less": "seconds <= 90",
    "stay with the group for 15 minutes": "seconds >= 900",
    "will do five (5) laps without stopping, 3 sessions in a row": "laps >= 5 sessions 3",
    "will increase laps from 2 to 5 laps": "laps >= 5 from 2",
    "will walk 1,000 steps": "steps >= 1000",
    "push a scooter 20 feet": "distance >= 20 ft",
    "swim 25 yards": "distance >= 25 yd",
    "jump 24 inches": "distance >= 24 in",
    "walk one mile": "distance >= 1 mi",
    "run 400 meters": "distance >= 400 m",
    "complete 10 push-ups": "count >= 10",
    "Within 36 weeks, hop on one foot 5 times": "count >= 5",
    "With no more than 2 verbal prompts, will line up": "count <= 2",
    "line up with 3 or fewer verbal prompts": "count <= 3",
    "will reduce from 5 to 2 falls a class": "count <= 2 from 5",
    "score a 3 on a 4-point rubric for teamwork": "rubric >= 3 levels 4",
    "3/4 on our throwing rubric": "rubric >= 3 levels 4",
    "level 3 of the rubric": "rubric >= 3",
    "roll a ball to a partner independently": "prompt >= 6",
    "roll a ball with a partial physical prompt": "prompt >= 2",
    "find the station with a gestural cue": "prompt >= 4",
}


@pytest.mark.parametrize(("text", "expected"), ONE.items())
def test_a_text_that_means_one_thing(text: str, expected: str) -> None:
    """Read whatever its capitals, number words and order."""
    assert [told(one) for one in goal_readings(text)] == [expected]
    assert [told(one) for one in goal_readings(text.upper())] == [expected]


TWO = {
    "run 400 meters in 3 minutes": {"seconds <= 180", "distance >= 400 m"},
    "dribble 5 consecutive times in 3 minutes": {"seconds <= 180", "count >= 5"},
    "8 of 10 opportunities with 90% accuracy": {"trials >= 8 of 10", "percent >= 90"},
    "ride a tricycle for 3-5 minutes": {"seconds >= 180", "seconds >= 300"},
    "catch in 3 of 5 trials by March and in 4 of 5 trials by June": {"trials >= 3 of 5", "trials >= 4 of 5"},
}


@pytest.mark.parametrize(("text", "expected"), TWO.items())
def test_a_text_that_means_two_things_is_asked_about(text: str, expected: set[str]) -> None:
    """Both readings are there, for a person to choose."""
    assert {told(one) for one in goal_readings(text)} == expected


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Will enjoy physical education more.",
        "By May 2027, in grade 3, will take part with peers.",
        "5",
        "9 of 5",
    ],
)
def test_a_text_without_a_figure_to_count_has_no_reading(text: str) -> None:
    """Kept as typed and asked about by whoever shows it; never guessed."""
    assert goal_readings(text) == ()


def test_the_condition_is_what_stands_before_the_first_comma() -> None:
    """In the plan's own capitals; no condition where the text begins otherwise."""
    (one,) = goal_readings("When shown a picture card, will sit on a spot for 20 seconds.")
    assert (one.condition, one.criterion) == ("When shown a picture card", Decimal(20))
    assert goal_readings("Catch, then throw, in 4 of 5 trials.")[0].condition == ""
