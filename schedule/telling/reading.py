"""How hard a text is to read, by published formulas, with the name of the measure.

Pure. Words, sentences and syllables are counted here (`syllables`); no dictionary is asked.
"""

import re
from dataclasses import dataclass

from schedule.telling.syllables import syllables_in

LEAST_WORDS = 20
"""Fewer say nothing (our choice, no source)."""

MEASURES = {"en": "Flesch-Kincaid grade", "es": "Crawford, years of school"}
"""English: Kincaid, Fishburne, Rogers and Chissom 1975. Spanish: Crawford 1984, for texts of primary school."""

_WORD = re.compile(r"\d+(?:[.,/:]\d+)*|[^\W\d_]+(?:['\u2019-][^\W\d_]+)*")
_END = re.compile(r"[.!?…]+[\"'”\u2019»)]*(?:\s|$)|\n")


@dataclass(frozen=True, slots=True)
class ReadingGrade:
    """The school grade that a text asks for, and by which measure; no grade for a text that is too short."""

    grade: float | None
    measure: str


@dataclass(frozen=True, slots=True)
class TextCounts:
    """What a text is made of. A word with a hyphen or an apostrophe, and a number, is one word."""

    words: int
    sentences: int
    syllables: int


def text_counts(text: str, language: str) -> TextCounts:
    """Its words, sentences and syllables. A sentence ends at its mark or at the end of a line."""
    words = _WORD.findall(text)
    sentences = sum(bool(_WORD.search(one)) for one in _END.split(text))
    syllables = sum(syllables_in(part, language) for word in words for part in word.split("-"))
    return TextCounts(len(words), sentences, syllables)


def flesch_kincaid(of: TextCounts) -> float:
    """The school grade of an English text (Kincaid, Fishburne, Rogers and Chissom 1975)."""
    return 0.39 * of.words / of.sentences + 11.8 * of.syllables / of.words - 15.59


def crawford(of: TextCounts) -> float:
    """The years of school that a Spanish text asks for (Crawford 1984): sentences and syllables in 100 words."""
    return -0.205 * 100 * of.sentences / of.words + 0.049 * 100 * of.syllables / of.words - 3.407


def reading_grade(text: str, language: str) -> ReadingGrade:
    """The grade of a text, never below 0."""
    measure, of = MEASURES[language], text_counts(text, language)
    if of.words < LEAST_WORDS:
        return ReadingGrade(None, measure)
    found = crawford(of) if language == "es" else flesch_kincaid(of)
    return ReadingGrade(max(0.0, round(found, 1)), measure)
