"""The reading grade of a family's version, against the published formulas and worked examples."""

import pytest

from schedule.telling.reading import TextCounts, crawford, flesch_kincaid, reading_grade, text_counts
from schedule.telling.syllables import syllables_in

# Kincaid, Fishburne, Rogers and Chissom 1975: 0.39 x words a sentence + 11.8 x syllables a word - 15.59.
# Words, sentences and syllables counted by hand.
TEXT = (
    "The teacher is happy. The students carry seven yellow baskets to the garden. "
    "After dinner they play in the water on Sunday."
)
WORDS, SENTENCES, SYLLABLES = 22, 3, 34

# The worked example of the encyclopedia article "Flesch-Kincaid readability tests" (read): "is an 11.3 as it has 24
# syllables and 13 words".
PLATYPUS = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."


def test_english_is_the_grade_of_the_published_formula() -> None:
    wanted = 0.39 * WORDS / SENTENCES + 11.8 * SYLLABLES / WORDS - 15.59
    found = reading_grade(TEXT, "en")
    assert found.measure == "Flesch-Kincaid grade"
    assert found.grade == pytest.approx(wanted, abs=0.06)


def test_the_published_worked_example_is_met() -> None:
    counts = text_counts(PLATYPUS, "en")
    assert counts == TextCounts(words=13, sentences=1, syllables=24)
    assert round(flesch_kincaid(counts), 1) == 11.3


def test_published_counts_give_the_published_grades() -> None:
    # A readability tool's report on a short story (read): 34 sentences, 432 words, 607 syllables, grade 5.90.
    assert flesch_kincaid(TextCounts(432, 34, 607)) == pytest.approx(5.9, abs=0.06)
    # The same encyclopedia article, of a children's book (read): 5.7 words a sentence, 1.02 syllables a word, -1.3.
    assert flesch_kincaid(TextCounts(words=5700, sentences=1000, syllables=5814)) == pytest.approx(-1.3, abs=0.06)


def test_spanish_is_the_grade_of_the_published_formula() -> None:
    """Crawford 1984: -0.205 x sentences + 0.049 x syllables, both in 100 words, - 3.407."""
    text = "La niña corre en el patio. Ella salta la cuerda diez veces. Hoy la maestra está muy contenta con todos."
    # By hand: 6 + 6 + 8 words; 9 + 10 + 14 syllables.
    assert text_counts(text, "es") == TextCounts(words=20, sentences=3, syllables=33)
    wanted = -0.205 * 15 + 0.049 * 165 - 3.407
    assert crawford(text_counts(text, "es")) == pytest.approx(wanted)
    assert reading_grade(text, "es").grade == pytest.approx(wanted, abs=0.05)


# As Merriam-Webster's Collegiate Dictionary divides them when they are spoken (from memory).
SPOKEN = {
    "asked": 1, "needed": 2, "place": 1, "places": 2, "table": 2, "times": 1, "something": 2, "being": 2, "idea": 3,
    "behavior": 3, "widely": 2, "physical": 3, "education": 4, "minutes": 2, "isn't": 2, "don't": 1,
    "rhythm": 2, "goals": 1,
}  # fmt: skip
# Real Academia Española, Ortografía de la lengua española (2010): open vowels part, closed ones join, an accent on
# a closed vowel parts, the u of que and gui is mute, y is a vowel at the end of a word.
ESCRITAS = {
    "niños": 2, "educación": 4, "leer": 2, "país": 2, "ciudad": 2, "quien": 1, "guitarra": 3, "pingüino": 3,
    "María": 3, "rey": 1, "muy": 1, "ahora": 3, "estudiante": 4, "todavía": 4, "y": 1,
}  # fmt: skip


@pytest.mark.parametrize(
    ("language", "word", "wanted"),
    [*(("en", *one) for one in SPOKEN.items()), *(("es", *one) for one in ESCRITAS.items())],
)
def test_syllables_are_those_of_the_dictionary(language: str, word: str, wanted: int) -> None:
    assert syllables_in(word, language) == wanted


def test_figures_and_marks_within_a_number_end_no_sentence() -> None:
    assert text_counts("Now it is 4.5 of 5 tries, or 1,200 steps. Good!", "en").sentences == 2
    assert text_counts("First line\nSecond line", "en").sentences == 2
    assert text_counts("", "en") == TextCounts(0, 0, 0)


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
