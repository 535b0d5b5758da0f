"""First sentences of a progress report, made from its figures. A person words them, reads them and signs.

For the team in English; for the family in plain words in its language, by the translation files in `locale`. What
the plan writes (a goal, names of levels) stays as it is written, in whatever language.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext, pgettext

from accounts.dates import date_words
from caseload.progress.measures import Measure
from caseload.progress.words import figure_words, number_words
from schedule.telling.facts import Direction, GoalFacts, ReportFacts


@dataclass(frozen=True, slots=True)
class Drafted:
    """Sentences about one thing; `topic` and `audience` as in `ReportSentence`."""

    audience: str
    topic: str
    text: str
    goal_id: int | None = None


def team_drafts(facts: ReportFacts) -> list[Drafted]:
    """For the plan's team, in the order of the report."""
    goals = [Drafted("team", "goal", _goal_for_team(one), one.goal_id) for one in facts.goals]
    return [
        Drafted("team", "minutes", _minutes_for_team(facts)),
        Drafted("team", "attendance", _attendance_for_team(facts)),
        *goals,
        Drafted("team", "more", ""),
    ]


def _minutes_for_team(facts: ReportFacts) -> str:
    if not facts.minutes:
        return ""
    sums = facts.sums
    dates = f"From {date_words(facts.counted_from)} to {date_words(facts.last)}"
    told = [f"{dates} the plan owed {sums.owed} minutes; {sums.delivered} were delivered."]
    if sums.made_up:
        told.append(f"Make-ups gave {sums.made_up} minutes.")
    told.append(f"{sums.still_open} minutes are open." if sums.still_open else "No minutes are open.")
    return " ".join(told)


def _attendance_for_team(facts: ReportFacts) -> str:
    found = facts.attendance
    if not found.planned:
        return ""
    told = [f"Of {found.planned} logged sessions {found.given} took place."]
    if found.reasons:
        told.append("Missed: " + ", ".join(f"{words.lower()} {count}" for words, count in found.reasons) + ".")
    return " ".join(told)


def _figure(one: GoalFacts, value: float) -> str:
    return figure_words(one.measure, value, trials=one.trials, unit=one.unit, levels=one.levels)


def _goal_for_team(one: GoalFacts) -> str:
    if not one.measure:
        return "Nobody has said yet how this goal is measured, so no data were taken."
    return " ".join([*_levels_for_team(one), *one.said])


def _levels_for_team(one: GoalFacts) -> Iterator[str]:
    if one.baseline is not None:
        yield f"Baseline: {_figure(one, one.baseline)}."
    if one.level is None or one.last_seen is None:
        yield "No data were taken."
        return
    points = "1 data point" if one.points == 1 else f"{one.points} data points"
    yield f"Present level: {_figure(one, one.level)} (of {points}, the last on {date_words(one.last_seen)})."


# ---- for the family --------------------------------------------------------------------------------------


def family_drafts(facts: ReportFacts, teacher: str, language: str) -> list[Drafted]:
    """For the family, in its language."""
    with translation.override(language):
        goals = [Drafted("family", "goal", _goal_for_family(facts, one), one.goal_id) for one in facts.goals]
        return [
            Drafted("family", "minutes", _minutes_for_family(facts)),
            Drafted("family", "attendance", _attendance_for_family(facts)),
            *goals,
            Drafted("family", "more", _("Do you have questions? Call %(teacher)s.") % {"teacher": teacher}),
        ]


def day_format() -> str:
    """How the language of the moment writes a date."""
    return pgettext("date format", "F j, Y")


def family_day(day: dt.date) -> str:
    """A date as the language of the moment writes it."""
    return date_format(day, day_format())


def _minutes_for_family(facts: ReportFacts) -> str:
    if not facts.minutes:
        return ""
    sums = facts.sums
    values = {
        "name": facts.first_name,
        "first": family_day(facts.counted_from),
        "last": family_day(facts.last),
        "owed": sums.owed,
        "delivered": sums.delivered + sums.made_up,
        "open": sums.still_open,
    }
    told = [
        _("From %(first)s to %(last)s %(name)s has %(owed)s minutes of adapted physical education.") % values,
        _("%(name)s got %(delivered)s minutes.") % values,
    ]
    if sums.still_open:
        told.append(_("We still owe %(open)s minutes.") % values)
    return " ".join(told)


def _attendance_for_family(facts: ReportFacts) -> str:
    found = facts.attendance
    if not found.planned:
        return ""
    values = {"name": facts.first_name, "planned": found.planned, "given": found.given}
    return _("We planned %(planned)s lessons. %(name)s took part in %(given)s of them.") % values


def _goal_for_family(facts: ReportFacts, one: GoalFacts) -> str:
    values = {"name": facts.first_name, "goal": one.text.strip().rstrip(".")}
    told = [_("%(name)s is working on this goal: “%(goal)s.”") % values]
    if not one.measure or one.level is None:
        return " ".join([*told, _("We have no data yet.")])
    if one.baseline is not None:
        told.append(_("At the start: %(level)s.") % {"level": _plain_figure(one, one.baseline)})
    told.append(_("Now: %(level)s.") % {"level": _plain_figure(one, one.level)})
    if one.criterion is not None:
        told.append(_("The goal is: %(level)s.") % {"level": _plain_figure(one, one.criterion)})
    told.append(_way(one) % values)
    return " ".join(told)


def _way(one: GoalFacts) -> str:
    if one.is_reached:
        return _("The data have reached what the goal asks for. The team decides what comes next.")
    return {
        Direction.TOWARD: _("The data show that %(name)s is getting closer to the goal."),
        Direction.AWAY: _("Lately the data have moved away from the goal."),
        Direction.NEITHER: _("The data show no clear change yet."),
        Direction.TOO_FEW: _("We need more data before we can say how it is going."),
    }[one.direction]


def _plain_figure(one: GoalFacts, value: float) -> str:
    """A level as a family reads it, in the language of the moment."""
    values = {"number": number_words(value), "tried": one.trials}
    if one.measure in {Measure.PROMPT, Measure.RUBRIC}:
        return _level_name(one, value)
    if one.measure == Measure.DISTANCE:
        return f"{values['number']} {one.unit}"
    many = 1 if value == 1 else 2
    told = {
        Measure.TRIALS.value: _("%(number)s of %(tried)s tries"),
        Measure.PERCENT.value: _("%(number)s percent"),
        Measure.COUNT.value: ngettext("%(number)s time", "%(number)s times", many),
        Measure.SECONDS.value: ngettext("%(number)s second", "%(number)s seconds", many),
        Measure.LAPS.value: ngettext("%(number)s lap", "%(number)s laps", many),
        Measure.STEPS.value: ngettext("%(number)s step", "%(number)s steps", many),
    }
    return told[one.measure] % values


PROMPTS = (
    gettext_noop("Full physical prompt"),
    gettext_noop("Partial physical prompt"),
    gettext_noop("Model"),
    gettext_noop("Gesture"),
    gettext_noop("Verbal prompt"),
    gettext_noop("Independent"),
)
"""Those of `caseload.progress.measures.PROMPT_LEVELS`, so that the translation files hold them."""


def _level_name(one: GoalFacts, value: float) -> str:
    """The level's own name; those of prompts are translated where they are the program's."""
    place = int(value) - 1
    if value == int(value) and 0 <= place < len(one.levels):
        name = one.levels[place]
        return _(name) if name in PROMPTS else name
    return _("level %(number)s") % {"number": number_words(value)}
