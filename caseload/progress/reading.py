"""Goals as plans write them, read as they are typed. Pure.

A goal says in its own words what is to be done, how well and how often (34 CFR 300.320(a)(2): measurable). Read is
what can be counted; the rest stays the text. Where a text can mean two things there are two readings, and a person
chooses; where it says nothing that can be counted there is none, and a person is asked. Nothing is guessed.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

from caseload.plans.frequency.cleaning import NUMBER_WORDS
from caseload.progress.measures import Measure, Wanted

LONGEST_CONDITION = 300


@dataclass(frozen=True, slots=True)
class GoalReading:
    """What a goal's text asks for; figures in the measure's own unit (see StudentGoal)."""

    measure: Measure
    criterion: Decimal
    wanted: Wanted = Wanted.MORE
    baseline: Decimal | None = None
    trials: int | None = None
    sessions: int | None = None
    sessions_of: int | None = None
    distance_unit: str = ""
    level_count: int | None = None
    condition: str = ""


_N = r"(?P<n>\d+(?:\.\d+)?)"
_OF = r"\s*(?:out of|of|/)\s*"
_SESSION = (
    r"(?:(?:consecutive|successive|different|separate|straight|data|class|lesson|school|observed|p\.?e\.?|physical "
    r"education|instructional|collection)\s+)*"
    r"(?:sessions?|classes|class periods?|lessons?|days?|occasions?|probes?)\b"
)
_SESSIONS_OF = re.compile(rf"(?:\b(?:over|across|for|in|on|during)\s+)?{_N}{_OF}(?P<of>\d+)\s+{_SESSION}")
_SESSIONS = re.compile(
    rf"\b(?:over|across|for|in|on|during)\s+(?:a\s+minimum\s+of\s+|at\s+least\s+)?{_N}\s+{_SESSION}"
    rf"|\b(?P<row>\d+)\s+(?:consecutive|successive|straight)\s+{_SESSION}"
    rf"|\b(?P<after>\d+)\s+{_SESSION}\s+in\s+a\s+row"
)
_TRIALS = re.compile(rf"(?<![\d.])(?P<n>\d+){_OF}(?P<of>\d+)(?![\d/]|\s*(?:-|to\b))")
_PERCENT = re.compile(rf"{_N}\s*%")
_LEVEL = re.compile(
    rf"(?:score|level|rating|a)s?\s+(?:of\s+)?(?:at\s+least\s+)?(?:a\s+)?{_N}\b[^.;]*?\b(?:rubric|scale)"
    rf"|(?P<points>\d+(?:\.\d+)?){_OF}\d+\s*(?:points?\s+)?(?:on|of)\s+[^.;]*?\b(?:rubric|scale)"
)
_LEVEL_COUNT = re.compile(r"\b(?:(?P<a>\d+)\s*-?\s*(?:point|level)|1\s*(?:-|to)\s*(?P<b>\d+)|[/f]\s*(?P<c>\d+))")
_QUANTITIES = (
    (Measure.SECONDS, re.compile(rf"{_N}\s*(?P<unit>seconds?|secs?\b|minutes?|mins?\b)")),
    (Measure.LAPS, re.compile(rf"{_N}\s+(?:consecutive\s+|full\s+)?laps?\b")),
    (Measure.STEPS, re.compile(rf"{_N}\s+(?:consecutive\s+|independent\s+)?steps?\b")),
    (
        Measure.DISTANCE,
        re.compile(
            rf"(?<!from )(?<!away )(?<!distance of ){_N}\s+"
            r"(?P<unit>inch(?:es)?|feet|foot|ft\b|yards?|yds?\b|meters?|m\b|miles?|mi\b|kilometers?|km\b|centimeters?|cm\b)(?!\s+(?:away|apart|from))"
        ),
    ),
    (
        Measure.COUNT,
        re.compile(
            rf"{_N}\s+(?:or (?:fewer|less|more)\s+)?"
            r"(?P<what>(?:consecutive\s+|successful\s+|correct\s+|verbal\s+|physical\s+|gestural\s+|visual\s+)*"
            r"(?:times|repetitions?|reps?|catches|throws|passes|jumps|hops|bounces|dribbles|kicks|strikes|hits|skips|"
            r"(?:push|sit|curl|pull)-?\s?ups|squats|strokes|falls|prompts?|reminders?|cues?|redirections?|turns|balls|"
            r"shots|pins|skills|movements|exercises|objects|targets))\b"
        ),
    ),
)
_UNITS = {"f": "ft", "y": "yd", "me": "m", "m": "m", "mi": "mi", "k": "km", "i": "in", "c": "cm"}
_AT_MOST = re.compile(
    r"(?:no more than|not more than|less than|fewer than|at most|a maximum of|under|down to)\s*\Z"
)
_IN_TIME = re.compile(r"\b(?:within|in)\s*\Z")
_AT_LEAST = re.compile(r"(?:for|at least|a minimum of|more than|over)\s*(?:at least\s*)?\Z")
_OR_LESS = re.compile(r"\A[^,.;]{0,20}?\bor (?:less|fewer|faster|under)\b")
_LESS_WORDS = re.compile(r"\b(?:reduc|decreas|lower)\w*")
_FROM_TO = re.compile(r"\bfrom\s+(?P<low>\d+(?:\.\d+)?)\s*(?P<unit>%|[a-z]+)?\s+to\s+(?=\d)")
_LEADING = re.compile(
    r"\A\s*((?:given|when|with|using|after|during|while|on|from|without)\b[^,.;]*),", re.IGNORECASE
)
_PROMPTS = (
    (6, re.compile(r"\bindependently\b|\bwithout (?:any )?(?:\w+ )?(?:prompts?|prompting|help|assistance)\b")),
    (1, re.compile(r"\b(?:full physical|hand[- ]over[- ]hand) (?:prompts?|prompting|assistance|help)\b")),
    (2, re.compile(r"\bpartial physical (?:prompts?|prompting|assistance|help)\b")),
    (3, re.compile(r"\b(?:a )?(?:model|demonstration)\b(?: prompts?)?")),
    (4, re.compile(r"\b(?:gestur\w*|visual) (?:prompts?|prompting|cues?)\b")),
    (5, re.compile(r"\bverbal (?:prompts?|prompting|cues?)\b")),
)
"""By the place of the level in measures.PROMPT_LEVELS, counted from 1."""


def goal_readings(text: str) -> tuple[GoalReading, ...]:
    """Everything that a goal's text can mean: none where nothing can be counted, several where a person chooses."""
    plain = _plain(text)
    sessions, rest = _sessions_in(plain)
    condition = _condition_of(text)
    found = _deduplicated(_readings_in(plain, rest, sessions))
    return tuple(
        replace(one, condition=condition, sessions=sessions[0], sessions_of=sessions[1])
        if one.measure is not Measure.TRIALS or one.trials != 1
        else replace(one, condition=condition)
        for one in found
    )


type _Sessions = tuple[int | None, int | None]


def _readings_in(plain: str, rest: str, sessions: _Sessions) -> list[GoalReading]:
    """What is asked of each trial, as a share, or by a rubric comes before what is only part of doing it once."""
    for found in (_levels_in(rest), _shares_in(rest), _quantities_in(rest), _prompts_in(rest)):
        if found:
            return found
    if sessions[1] is not None and sessions[0] is not None:
        # "in 4 of 5 sessions": each session is one trial.
        one = GoalReading(Measure.TRIALS, Decimal(1), trials=1, sessions=sessions[0], sessions_of=sessions[1])
        return [one]
    return []


def _deduplicated(found: Iterable[GoalReading]) -> list[GoalReading]:
    return list(dict.fromkeys(found))


_NUMBERS = re.compile(
    r"\b(?!one (?:foot|leg|hand|arm|side)\b)(?:"
    + "|".join(sorted(NUMBER_WORDS, key=len, reverse=True)).replace("-", "[- ]")
    + r")\b",
    re.IGNORECASE,
)


def _plain(text: str) -> str:
    """One line in small letters with figures for number words, one sign for percent, no thousands' commas."""
    line = " ".join(text.lower().replace("\u2013", "-").replace("\u2014", " , ").split())
    line = _NUMBERS.sub(lambda found: str(NUMBER_WORDS[found[0].replace(" ", "-")]), line)
    line = re.sub(r"\s*\b(?:percent|per cent|pct\.?)(?!\w)", "%", line)
    line = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", line)
    # "five (5) laps" says it twice.
    return re.sub(r"(\d+)\s*\(\s*\1\s*\)", r"\1", line)


def _sessions_in(plain: str) -> tuple[_Sessions, str]:
    """Over how many sessions, and the text without those words."""
    if (found := _SESSIONS_OF.search(plain)) is not None:
        return (int(Decimal(found["n"])), int(found["of"])), _without(plain, found)
    if (found := _SESSIONS.search(plain)) is not None:
        number = next(one for one in (found["n"], found["row"], found["after"]) if one)
        return (int(Decimal(number)), None), _without(plain, found)
    return (None, None), plain


def _without(text: str, found: re.Match[str]) -> str:
    return f"{text[: found.start()]} ; {text[found.end() :]}"


def _levels_in(text: str) -> list[GoalReading]:
    """The level of a rubric or scale."""
    found = _LEVEL.search(text)
    if found is None:
        return []
    count = _LEVEL_COUNT.search(found[0])
    number = next((one for one in count.groups() if one), None) if count is not None else None
    level = Decimal(found["n"] or found["points"])
    return [GoalReading(Measure.RUBRIC, level, level_count=int(number) if number else None)]


def _shares_in(text: str) -> list[GoalReading]:
    """So many of so many trials, or percent; the same share said both ways is the trials."""
    trials = [one for found in _trials(text) for one in _both(_trials_read, found, text)]
    percents = [one for found in _percents(text) for one in _both(_percent_read, found, text)]
    shares = {one.criterion * 100 / (one.trials or 1) for one in trials}
    return [*trials, *(one for one in percents if one.criterion not in shares)]


def _trials(text: str) -> Iterator[re.Match[str]]:
    """Where so many of so many are said."""
    return (one for one in _TRIALS.finditer(text) if _is_share(one))


def _percents(text: str) -> Iterator[re.Match[str]]:
    """Where a share is said in percent that is no start of "from ... to ..."."""
    found = (one for one in _PERCENT.finditer(text) if not _is_start(text, one))
    return (one for one in found if Decimal(one["n"]) <= 100)


def _percent_read(found: re.Match[str], text: str) -> GoalReading:
    wanted = _wanted(text, found, Wanted.MORE)
    return GoalReading(Measure.PERCENT, Decimal(found["n"]), wanted, _baseline_before(text, found))


_RANGE = re.compile(r"(?P<low>\d+(?:\.\d+)?)\s*(?:-|to|or)\s*\Z")


def _both(
    read: Callable[[re.Match[str], str], GoalReading], found: re.Match[str], text: str
) -> Iterator[GoalReading]:
    """ "3-5 minutes" can mean either end; "from 3 to 5" says where it begins."""
    one = read(found, text)
    low = _RANGE.search(text[: found.start()])
    if low is not None and one.baseline is None and Decimal(low["low"]) < Decimal(found["n"]):
        yield replace(one, criterion=one.criterion * Decimal(low["low"]) / Decimal(found["n"]))
    yield one


def _is_share(found: re.Match[str]) -> bool:
    return 0 < int(found["of"]) <= 100 and int(found["n"]) <= int(found["of"])


def _trials_read(found: re.Match[str], text: str) -> GoalReading:
    return GoalReading(
        Measure.TRIALS,
        Decimal(found["n"]),
        _wanted(text, found, Wanted.MORE),
        _baseline_before(text, found),
        int(found["of"]),
    )


def _quantities_in(text: str) -> list[GoalReading]:
    """Seconds, laps, steps, a distance, so many times."""
    return [
        one
        for measure, pattern in _QUANTITIES
        for found in pattern.finditer(text)
        if not _is_start(text, found)
        for one in _both(partial(_quantity_read, measure), found, text)
    ]


def _quantity_read(measure: Measure, found: re.Match[str], text: str) -> GoalReading:
    unit = found.groupdict().get("unit") or ""
    times = 60 if measure is Measure.SECONDS and unit.startswith("m") else 1
    baseline = _baseline_before(text, found)
    return GoalReading(
        measure,
        Decimal(found["n"]) * times,
        _wanted(text, found, _usually(measure, found, text)),
        baseline * times if baseline is not None else None,
        distance_unit=_unit(unit) if measure is Measure.DISTANCE else "",
    )


_FEWER = ("prompt", "reminder", "cue", "redirection", "fall")


def _usually(measure: Measure, found: re.Match[str], text: str) -> Wanted:
    """Fewer prompts and falls, and what is done "in 30 seconds" in less time; more of all else."""
    in_time = measure is Measure.SECONDS and _IN_TIME.search(text[: found.start()])
    fewer = measure is Measure.COUNT and any(word in found["what"] for word in _FEWER)
    return Wanted.LESS if in_time or fewer else Wanted.MORE


def _unit(word: str) -> str:
    return next(
        unit for begins, unit in sorted(_UNITS.items(), key=lambda one: -len(one[0])) if word.startswith(begins)
    )


def _wanted(text: str, found: re.Match[str], usual: Wanted) -> Wanted:
    before, after = text[: found.start()], text[found.start() :].removeprefix(found["n"])
    if _OR_LESS.search(after) or _AT_MOST.search(before) or _LESS_WORDS.search(before):
        return Wanted.LESS
    return Wanted.MORE if _AT_LEAST.search(before) else usual


def _baseline_before(text: str, found: re.Match[str]) -> Decimal | None:
    """2 in "from 2 to 5 laps"."""
    start = next((one for one in _FROM_TO.finditer(text) if one.end() == found.start()), None)
    return Decimal(start["low"]) if start is not None else None


def _is_start(text: str, found: re.Match[str]) -> bool:
    """Whether a figure is where "from ... to ..." begins."""
    return any(one.start("low") == found.start() for one in _FROM_TO.finditer(text))


def _prompts_in(text: str) -> list[GoalReading]:
    """The level of prompt, where nothing else is counted: the most help that the text allows."""
    levels = sorted(level for level, pattern in _PROMPTS if pattern.search(text))
    return [GoalReading(Measure.PROMPT, Decimal(levels[0]))] if levels else []


def _condition_of(text: str) -> str:
    """The words before the first comma where they say under which condition."""
    found = _LEADING.match(" ".join(text.split()))
    return found[1][:LONGEST_CONDITION] if found is not None else ""
