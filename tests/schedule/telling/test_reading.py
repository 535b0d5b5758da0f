"""The reading grade of a family's version, against the published formulas."""

import pytest

from schedule.telling.reading import reading_grade

# Kincaid, Fishburne, Rogers and Chissom 1975: 0.39 x words a sentence + 11.8 x syllables a word - 15.59.
# Words, sentences and syllables counted by hand.
TEXT = (
    "The teacher is happy. The students carry seven yellow baskets to the garden. "
    "After dinner they play in the water on Sunday."
)
WORDS, SENTENCES, SYLLABLES = 22, 3, 34


def test_english_is_the_grade_of_the_published_formula() -> None:
    wanted = 0.39 * WORDS / SENTENCES + 11.8 * SYLLABLES / WORDS - 15.59
    found = reading_grade(TEXT, "en")
    assert found.measure == "Flesch-Kincaid grade"
    assert found.grade == pytest.approx(wanted, abs=0.06)


def test_longer_words_and_sentences_ask_for_a_higher_grade_in_both_languages() -> None:
    easy = "El perro va al parque. La niña ve el sol. Luis come pan. Ana bebe agua. Hoy es un buen día para todos."
    hard = (
        "Las evaluaciones individualizadas demuestran sistemáticamente características extraordinariamente "
        "significativas, independientemente de las circunstancias organizativas correspondientes a cada "
        "institución educativa participante en esta investigación."
    )
    low, high = reading_grade(easy, "es").grade, reading_grade(hard, "es").grade
    assert low is not None
    assert high is not None
    assert low < high
    assert reading_grade(easy, "es").measure.startswith("Crawford")


def test_a_text_that_is_too_short_has_no_grade() -> None:
    assert reading_grade("We ran.", "en").grade is None
