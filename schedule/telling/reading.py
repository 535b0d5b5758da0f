"""How hard a text is to read, by a kept library, with the name of the measure."""

from dataclasses import dataclass
from functools import cache

from textstat.textstat import textstatistics

LEAST_WORDS = 20
"""Fewer say nothing (our choice, no source)."""

MEASURES = {"en": "Flesch-Kincaid grade", "es": "Crawford, years of school"}
"""English: Kincaid, Fishburne, Rogers and Chissom 1975. Spanish: Crawford 1984, for texts of primary school."""

LOCALES = {"en": "en_US", "es": "es"}


@dataclass(frozen=True, slots=True)
class ReadingGrade:
    """The school grade that a text asks for, and by which measure; no grade for a text that is too short."""

    grade: float | None
    measure: str


@cache
def _measurer(language: str) -> textstatistics:
    found = textstatistics()
    found.set_lang(LOCALES[language])
    return found


def reading_grade(text: str, language: str) -> ReadingGrade:
    """The grade of a text, never below 0."""
    measure = MEASURES[language]
    measurer = _measurer(language)
    if measurer.lexicon_count(text) < LEAST_WORDS:
        return ReadingGrade(None, measure)
    found = measurer.crawford(text) if language == "es" else measurer.flesch_kincaid_grade(text)
    return ReadingGrade(max(0.0, round(float(found), 1)), measure)
