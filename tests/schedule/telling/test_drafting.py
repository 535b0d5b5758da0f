"""What is drafted from a report's figures, for the team and in both languages for the family."""

import datetime as dt
import gettext
import re
from dataclasses import replace
from pathlib import Path

import pytest
from django.conf import settings

from caseload.progress.measures import PROMPT_LEVELS
from schedule.telling.drafting import PROMPTS, family_drafts, team_drafts
from schedule.telling.facts import AttendanceFacts, Direction, GoalFacts, MinutesFacts, ReportFacts, present_level

GOAL = GoalFacts(
    7, "Catch a bounced ball in 4 of 5 trials.", False, dt.date(2027, 5, 28), "trials", 5, baseline=1.0,
    criterion=4.0, level=3.0, points=6, last_seen=dt.date(2026, 11, 6), direction=Direction.TOWARD,
    said=("Rising by about 1 of 5 trials a week.",),
)  # fmt: skip
FACTS = ReportFacts(
    "Wren Sorrel", "Wren", "North School", "Grade 2", dt.date(2026, 9, 8), dt.date(2026, 11, 13),
    dt.date(2026, 9, 7), (MinutesFacts("2 x 30 min a week", 600, 480, 30, 90, 60),),
    AttendanceFacts(20, 16, (("Student absent", 3), ("Assembly or trip", 1))), (GOAL,),
)  # fmt: skip
LOCALE = Path(settings.BASE_DIR) / "schedule" / "locale"


def told(language: str, facts: ReportFacts = FACTS) -> str:
    return " ".join(one.text for one in family_drafts(facts, "Ms. Alder", language))


def test_the_team_reads_minutes_attendance_and_each_goal_in_figures() -> None:
    drafts = {one.topic: one.text for one in team_drafts(FACTS)}
    assert (
        "owed 600 minutes; 480 were delivered. Make-ups gave 30 minutes. 60 minutes are open." in drafts["minutes"]
    )
    assert drafts["attendance"].endswith("16 took place. Missed: student absent 3, assembly or trip 1.")
    assert "Baseline: 1 of 5 trials. Present level: 3 of 5 trials (of 6 data points" in drafts["goal"]
    assert drafts["goal"].endswith("Rising by about 1 of 5 trials a week.")
    assert drafts["more"] == ""


def test_the_family_reads_plain_words_in_its_language() -> None:
    english, spanish = told("en"), told("es")
    assert "Wren got 510 minutes. We still owe 60 minutes." in english
    assert "Now: 3 of 5 tries. The goal is: 4 of 5 tries." in english
    assert "Wren recibió 510 minutos. Todavía debemos 60 minutos." in spanish
    assert "Ahora: 3 de 5 intentos. La meta es: 4 de 5 intentos." in spanish
    assert "Del 7 de septiembre de 2026 al 13 de noviembre de 2026" in spanish


@pytest.mark.parametrize("way", list(Direction))
def test_every_way_that_a_goal_can_go_has_its_own_words(way: Direction) -> None:
    facts = replace(FACTS, goals=(replace(GOAL, direction=way),))
    others = [told("en", replace(FACTS, goals=(replace(GOAL, direction=one),))) for one in Direction if one != way]
    assert told("en", facts) not in others
    assert told("es", facts) != told("en", facts)


def test_a_goal_without_data_says_so_and_no_level_is_made_up() -> None:
    facts = replace(FACTS, goals=(replace(GOAL, level=None, points=0, last_seen=None, said=()),))
    drafts = {one.topic: one.text for one in team_drafts(facts)}
    assert drafts["goal"] == "Baseline: 1 of 5 trials. No data were taken."
    assert "We have no data yet." in told("en", facts)


def test_without_owed_minutes_and_sessions_nothing_is_said_of_them() -> None:
    facts = replace(FACTS, minutes=(), attendance=AttendanceFacts())
    drafts = {one.topic: one.text for one in team_drafts(facts)}
    assert drafts["minutes"] == drafts["attendance"] == ""


def test_the_present_level_is_one_of_the_last_three_data_points() -> None:
    days = [dt.date(2026, 10, day) for day in (1, 8, 15, 22)]
    assert present_level(zip(days, [9.0, 2.0, 5.0, 3.0], strict=True)) == 3.0
    assert present_level(zip(days[:2], [4.0, 2.0], strict=True)) == 2.0
    assert present_level([]) is None


def test_the_names_of_prompts_are_those_of_the_measures() -> None:
    assert PROMPTS == PROMPT_LEVELS


def test_the_compiled_file_says_what_the_translation_file_says() -> None:
    """Each text of the .po file, and no other, is in the .mo file that Django reads."""
    text = (LOCALE / "es" / "LC_MESSAGES" / "django.po").read_text(encoding="utf-8")
    with (LOCALE / "es" / "LC_MESSAGES" / "django.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    body = text.split("\n\n", 1)[1]
    single = dict(re.findall(r'^msgid "(.+)"\nmsgstr "(.+)"$', body, re.MULTILINE))
    assert len(single) > 20
    assert all(told for told in single.values())
    plain = {key: value.replace("\\\\", "\\") for key, value in single.items() if key != "F j, Y"}
    assert {key: compiled.gettext(key) for key in plain} == plain
    several = re.findall(
        r'^msgid "(.+)"\nmsgid_plural "(.+)"\nmsgstr\[0\] "(.+)"\nmsgstr\[1\] "(.+)"$', body, re.MULTILINE
    )
    for one, many, told_one, told_many in several:
        assert (compiled.ngettext(one, many, 1), compiled.ngettext(one, many, 2)) == (told_one, told_many)
