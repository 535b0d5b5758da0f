"""Whether a title of a published calendar says clear-cut what a day is for everybody; what is not is asked.

Recognized words alone don't say it: "Martin Luther King Day Celebration" may be an assembly, "Early Dismissal K
only" is one grade's. A title is clear-cut if nothing is left of it but words that change neither what nor whom
it means, or if it states a closing by itself and gives a reason beside it ("Schools closed: burst pipe"). The lists
are common practice, no source; where they are too short, a person is asked once and the answer is kept. Pure.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from functools import cache

import holidays

from schedule.calendar.published.words import ENDS_OF_YEAR, CalendarFinding, FindingKind, TitleRule, plain_words


def _listed(words: str) -> frozenset[str]:
    return frozenset(words.split())


ONLY_AN_HOUR = "it is only at a time of the day"
_SHORTENED = frozenset({FindingKind.EARLY_DISMISSAL, FindingKind.DELAYED_OPENING})
_CLOSING = frozenset({FindingKind.CLOSED, FindingKind.NO_STUDENTS})
# Of a rule that states a closing, and not only the name of a holiday or what the staff does.
_STATING = frozenset({"no", "closed"})
_HARMLESS = _listed(
    """
    a an and at by due for in of on or the to january february march april may june july august september
    october november december monday mondays tuesday tuesdays wednesday wednesdays thursday thursdays friday
    fridays mid midwinter winter spring summer fall autumn day days week all district districtwide wide
    school schools student students observed jr dr conference conferences parent parents teacher teachers
    staff professional development learning training inservice work workday workdays planning grading
    records curriculum institute end second third fourth marking period quarter trimester semester weather
    inclement snow ice storm cold heat
    """
)
_BEGINNING = frozenset({"begin", "begins", "start", "starts", "before", "prior"})
_NARROWING = _listed(
    """
    k kg kindergarten kindergartners pk prek pre preschool grade grades elementary middle high primary
    intermediate secondary junior juniors senior seniors freshman freshmen sophomores only except some
    campus academy building class classes classroom room team club program mr mrs ms miss office offices
    board meeting lunch if unless needed tentative possible possibly maybe pending proposed make makeup
    unused used instead no not canceled cancelled rescheduled postponed moved changed reopen reopens resume
    resumes resumed return returns am pm morning afternoon evening night virtual remote online
    """
)
_CLOCK = re.compile(r"\b\d{1,2}(?::\d{2})?\s*[ap]\.?m\b\.?|\b\d{1,2}:\d{2}\b", re.IGNORECASE)
_LENGTH = re.compile(r"\b(?:\d+|one|two|three)[- ]?(?:hours?|hrs?|minutes?|mins?)\b", re.IGNORECASE)
_BREAKS = re.compile(r"[:;,()/|\u2013\u2014]|\s-+\s")

type Phrase = tuple[str, ...]


def weigh(
    finding: CalendarFinding,
    rules: Sequence[TitleRule],
    *,
    own: str = "",
    places: Iterable[str] = (),
    is_brief: bool = False,
) -> CalendarFinding:
    """The finding with its `doubt`.

    `own`: name of the school whose calendar it is, empty for a district's; `places`: names of other schools;
    `is_brief`: it lasts hours only.
    """
    if not finding.matched:
        return finding
    if is_brief and finding.kind in _CLOSING:
        return replace(finding, doubt=ONLY_AN_HOUR)
    words = _doubtful_words(finding, (*rules, TitleRule(own, finding.kind)), _names_of(places))
    return replace(finding, doubt=f"it also says “{' '.join(words)}”") if words else finding


def _doubtful_words(finding: CalendarFinding, rules: Sequence[TitleRule], names: Collection[str]) -> list[str]:
    """The words that leave open what the title means, or whom."""
    if finding.kind is None:
        return _hidden(finding, rules)
    if "?" in finding.title:
        return ["?"]
    own = _phrases(rule for rule in rules if _is_akin(rule, finding.kind))
    own |= holiday_phrases() if finding.kind in _CLOSING else set()
    left = min((left_of(words_of(title), own) for title in _readings(finding)), key=len)
    if _is_eve_of_a_break(finding, left, rules) or _states_a_closing(finding, left, names):
        return []
    return left


def _readings(finding: CalendarFinding) -> tuple[str, ...]:
    """The title; of a short day also without the hour that it ends at, and without how long it is delayed."""
    if finding.kind not in _SHORTENED:
        return (finding.title,)
    timeless = _CLOCK.sub(" ", finding.title)
    return timeless, _LENGTH.sub(" ", timeless)


def _hidden(finding: CalendarFinding, rules: Sequence[TitleRule]) -> list[str]:
    """Words of an ordinary event that beside it say what the day is ("Holiday party, early dismissal")."""
    left = _uncovered(words_of(finding.title), {tuple(words_of(finding.matched))})
    days = _phrases(rule for rule in rules if rule.kind is not None and rule.kind not in ENDS_OF_YEAR)
    after = _uncovered(left, days)
    return [word for word in left if word not in after]


def _is_akin(rule: TitleRule, kind: FindingKind | None) -> bool:
    """Whether its words say the same of who attends; ends of the year are beside every kind."""
    if rule.kind is None:
        return False
    return rule.kind == kind or rule.kind in ENDS_OF_YEAR or {rule.kind, kind} <= _CLOSING


def _is_eve_of_a_break(finding: CalendarFinding, left: Sequence[str], rules: Sequence[TitleRule]) -> bool:
    """Whether a single short day names the break that begins after it."""
    if finding.kind not in _SHORTENED or finding.first != finding.last or not _BEGINNING & set(left):
        return False
    closing = _phrases(rule for rule in rules if rule.kind in _CLOSING)
    return not [word for word in left_of(left, closing) if word not in _BEGINNING]


def _states_a_closing(finding: CalendarFinding, left: Sequence[str], names: Collection[str]) -> bool:
    """Whether one part of the title says nothing but that it is closed, and the rest narrows that to nobody."""
    matched = words_of(finding.matched)
    if finding.kind not in _CLOSING or not _STATING & set(matched):
        return False
    parts = [words_of(part) for part in _BREAKS.split(finding.title)]
    states = any(
        _uncovered(part, {tuple(matched)}) != part and not left_of(part, {tuple(matched)}) for part in parts
    )
    return states and not any(
        word in _NARROWING or word in names or any(map(str.isdigit, word)) for word in left
    )  # fmt: skip


# ---- words -----------------------------------------------------------------------------------------------


def words_of(text: str) -> list[str]:
    """The words of a title, in small letters."""
    return plain_words(text).split()


def _phrases(rules: Iterable[TitleRule]) -> set[Phrase]:
    return {tuple(words_of(rule.words)) for rule in rules} - {()}


def left_of(words: Sequence[str], phrases: Collection[Phrase]) -> list[str]:
    """The words outside the phrases that may mean something."""
    return [word for word in _uncovered(words, phrases) if word not in _HARMLESS]


def _uncovered(words: Sequence[str], phrases: Collection[Phrase]) -> list[str]:
    """The words that stand in none of the phrases; a phrase may end in a plural s."""
    covered: set[int] = set()
    for phrase in phrases:
        for at in range(len(words) - len(phrase) + 1):
            found = tuple(words[at : at + len(phrase)])
            if phrase and found[:-1] == phrase[:-1] and found[-1] in {phrase[-1], f"{phrase[-1]}s"}:
                covered |= set(range(at, at + len(phrase)))
    return [word for place, word in enumerate(words) if place not in covered]


def _names_of(places: Iterable[str]) -> set[str]:
    """The words by which schools are told apart."""
    return {word for place in places for word in words_of(place)} - _HARMLESS


@cache
def holiday_phrases() -> set[Phrase]:
    """Names of the country's and the states' public holidays, by the holidays library; any year has their names."""
    states = ("", *holidays.list_supported_countries()["US"])
    found = {
        name
        for state in states
        for names in holidays.country_holidays("US", subdiv=state or None, years=2026).values()
        for name in names.split("; ")
    }
    return {tuple(words_of(name)) for name in found}
