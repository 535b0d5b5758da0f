"""What a title of a published calendar leaves open.

Titles are written as school calendars write them; common practice, no source.
"""

import datetime as dt

import pytest

from schedule.calendar.published.asking import (
    NOT_IN_TABLE,
    SOME_ARE_OPEN,
    WHEN_DOES_IT_END,
    asked,
    with_ends_asked,
)
from schedule.calendar.published.doubt import ONLY_AN_HOUR, weigh
from schedule.calendar.published.words import DEFAULT_WORD_RULES, CalendarFinding, FindingKind, TitleRule, recognize

DAY = dt.date(2027, 1, 18)
PLACES = ("Tansy Hill Elementary School", "Larkmoor Middle School")


def found(
    title: str, rules: tuple[TitleRule, ...] = DEFAULT_WORD_RULES, last: dt.date = DAY, *, is_brief: bool = False
) -> CalendarFinding:
    """The one thing that is found in a title."""
    (finding,) = recognize(DAY, last, title, rules)
    return weigh(finding, rules, places=PLACES, is_brief=is_brief)


@pytest.mark.parametrize(
    "title",
    [
        "Labor Day - Schools Closed", "No School - Fall Holiday", "No School", "NO SCHOOL", "Winter Break",
        "Mid-winter recess", "Thanksgiving Recess - Schools Closed", "Presidents\u2019 Day",
        "Spring Break - No School",
        "Columbus Day / Indigenous Peoples' Day - No School", "Superintendent's Conference Day - No Students",
        "Staff Development Day - No Students", "Professional Day - No School", "No students: teacher workday",
        "Martin Luther King Jr. Day - No School", "Juneteenth (observed) - No School", "Veterans Day Holiday",
        "School closed: burst pipe", "Schools Closed due to snow", "Rosh Hashanah - No School",
        "Early Dismissal", "EARLY-DISMISSAL", "Early Dismissal - Parent Conferences", "Early dismissal 12:30 pm",
        "Early Dismissal - End of Second Marking Period", "Early Dismissal - Start of Winter Recess",
        "Early Release - Winter Break begins", "Half Days for conferences", "Late start Wednesday",
        "Two-Hour Delayed Opening - Staff Training", "2-Hour Delay", "2 hour delay: ice",
    ],
)  # fmt: skip
def test_titles_beyond_doubt(title: str) -> None:
    assert found(title).doubt == ""


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Martin Luther King Day Celebration", "celebration"),
        ("Kindergarten Early Dismissal K only", "kindergarten k only"),
        ("Early Dismissal (K-5)", "k 5"),
        ("Early dismissal grades 9-12", "grades 9 12"),
        ("Early dismissal: wrestling team", "wrestling team"),
        ("Half day field trip", "field trip"),
        ("Tansy Hill Early Dismissal", "tansy hill"),
        ("No School: Tansy Hill", "tansy hill"),
        ("No school for kindergarten", "kindergarten"),
        ("No School - Grade 6 only", "grade 6 only"),
        ("No school lunch", "lunch"),
        ("No School - Snow Day Make-up if needed", "make up if needed"),
        ("No early dismissal today", "no today"),
        ("School closed to visitors", "visitors"),
        ("Early release - spring break", "break"),
        ("No School, early dismissal rescheduled", "no rescheduled"),
        ("Spring Break Camp registration", "camp registration"),
        ("Winter Break (schools reopen January 4)", "reopen 4"),
        ("Thanksgiving feast", "feast"),
        ("Memorial Day parade", "parade"),
        ("Recess committee", "committee"),
        ("Professional development 3:30 pm", "3 30 pm"),
        ("No school?", "?"),
        ("Holiday party, early dismissal", "early dismissal"),
    ],
)
def test_titles_in_doubt_say_by_which_words(title: str, words: str) -> None:
    finding = found(title)
    left = finding.doubt.removeprefix("it also says “").removesuffix("”")
    assert set(left.split()) == set(words.split())


def test_an_hour_closes_nothing_beyond_doubt() -> None:
    """A timed event of a few hours; a short day may well be written with its hours."""
    assert found("Professional development", is_brief=True).doubt == ONLY_AN_HOUR
    assert found("Early dismissal", is_brief=True).doubt == ""


def test_a_schools_own_calendar_may_name_the_school() -> None:
    """And another school still leaves it open."""
    for title, doubt in (("Tansy Hill: No School", False), ("Larkmoor: No School", True)):
        (finding,) = recognize(DAY, DAY, title, DEFAULT_WORD_RULES)
        weighed = weigh(finding, DEFAULT_WORD_RULES, own="Tansy Hill", places=("Larkmoor",))
        assert bool(weighed.doubt) is doubt


def test_a_short_day_that_lasts_for_days_is_no_eve() -> None:
    """A whole week can't be the day before the break."""
    assert found("Early Release - Winter Break begins", last=DAY + dt.timedelta(days=4)).doubt


def test_an_answer_is_beyond_doubt_for_its_own_title_alone() -> None:
    """It is the whole title, and comes before other words and before an answer about a part of it."""
    answers = (
        TitleRule("Early dismissal K", FindingKind.CLOSED),
        TitleRule("Early dismissal K only", None),
    )
    rules = (*answers, *DEFAULT_WORD_RULES)
    assert (found("Early Dismissal K only!", rules).kind, found("Early Dismissal K only!", rules).doubt) == (
        None,
        "",
    )
    assert found("Early Dismissal K only, grade 3", rules).kind is FindingKind.CLOSED
    assert found("Early Dismissal K only, grade 3", rules).doubt


def test_what_no_words_recognize_is_not_weighed() -> None:
    assert weigh(CalendarFinding(DAY, DAY, "Chess club"), DEFAULT_WORD_RULES).doubt == ""


# --- what is asked


@pytest.mark.parametrize(
    ("title", "kind", "doubt"),
    [
        ("Veteran's Day", "closed", SOME_ARE_OPEN),
        ("Veterans Day", "closed", SOME_ARE_OPEN),
        ("MLK Day", "closed", SOME_ARE_OPEN),
        ("Columbus Day / Indigenous Peoples' Day", "closed", SOME_ARE_OPEN),
        ("Election Day (district-wide)", "closed", SOME_ARE_OPEN),
        ("Non-Student Day", "no_students", NOT_IN_TABLE),
        ("Student Non-Attendance Day", "no_students", NOT_IN_TABLE),
        ("Last Day Staff & Students", "last_day", NOT_IN_TABLE),
        ("First Day for Students and Staff", "first_day", NOT_IN_TABLE),
    ],
)
def test_what_no_rule_has_is_asked(title: str, kind: str, doubt: str) -> None:
    """A district whose table was made before the words were known isn't left without them."""
    (finding,) = asked(DAY, DAY, title)
    assert (finding.kind, finding.doubt) == (kind, doubt)


@pytest.mark.parametrize(
    "title",
    [
        "Reorganization Day", "Veterans Day Assembly", "MLK Day of Service", "Chess club", "Last Day Staff",
        "Last Day of Kindergarten", "Arbor Day planting", "Day", "Staff Day",
    ],
)  # fmt: skip
def test_what_says_nothing_is_not_asked(title: str) -> None:
    """The rest of the title is something else than the day."""
    assert asked(DAY, DAY, title) == ()


def test_new_districts_know_a_day_without_students_and_the_last_of_all() -> None:
    """By the words that a district begins with."""
    assert found("Non-Student Day").kind == FindingKind.NO_STUDENTS
    assert found("Non-Student Day").doubt == ""
    assert found("Last Day Staff & Students").kind == FindingKind.LAST_DAY


def test_a_break_of_one_day_is_asked_for_its_end() -> None:
    """Not one that has its end, nor one that the calendar lists day by day, over a weekend as well."""

    def of(*days: int, title: str = "Winter Break", last: int = 0) -> list[bool]:
        dates = [DAY + dt.timedelta(days=day) for day in days]
        findings = [recognize(date, date + dt.timedelta(days=last), title, DEFAULT_WORD_RULES)[0] for date in dates]
        return [one.asks_end and one.doubt == WHEN_DOES_IT_END for one in with_ends_asked(findings)]

    assert of(0) == [True]
    assert of(0, last=4) == [False]
    assert of(0, 1, 4) == [False, False, False]
    assert of(0, 30) == [True, True]
    assert of(0, title="Labor Day") == [False]
    assert of(0, title="Break for staff") == [False]
