"""School grades in their order, as one word each (United States usage)."""

import re

GRADES = ("PK", "K", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "12+")
GRADE_CHOICES = [
    (
        grade,
        {"PK": "Preschool", "K": "Kindergarten", "12+": "Transition (18 to 21)"}.get(grade, f"Grade {grade}"),
    )
    for grade in GRADES
]

_WORDS = dict(GRADE_CHOICES)


def grade_words(grade: str) -> str:
    """A grade inside a sentence: ``grade 3``, ``kindergarten``, ``transition (18 to 21)``."""
    return _WORDS.get(grade, grade).lower()


def grade_called(text: str) -> str:
    """A grade however a list writes it, as one of `GRADES`: ``KG``, ``03``, ``3rd``, ``Grade 3``, ``Pre-K``.

    What it doesn't know is handed back in capitals. Common practice, no source.
    """
    word = re.sub(r"^(GRADE|GR\.?)\s*", "", text.strip().upper())
    if word in GRADES:
        return word
    if re.fullmatch(r"(PRE|P)[- ]?K(3|4)?|PRESCHOOL|PRE-?KINDERGARTEN", word):
        return "PK"
    if re.fullmatch(r"KG|KDG|KN|KINDER|KINDERGARTEN|0K", word):
        return "K"
    found = re.fullmatch(r"0?(\d{1,2})(ST|ND|RD|TH)?", word)
    return found[1] if found and found[1] in GRADES else word


def read_grades(text: str) -> frozenset[str]:
    """Grades named in a text such as ``K-2, 5``; an empty text means every grade.

    Raises `ValueError` naming the part that can't be read.
    """
    found: set[str] = set()
    for part in filter(None, (piece.strip().upper() for piece in text.replace(";", ",").split(","))):
        whole = grade_called(part)
        first, _, last = (whole, "", "") if whole in GRADES else map(_end_called, part.partition("-"))
        if first not in GRADES or (last and last not in GRADES):
            message = f"“{part}” isn't a grade. Use {', '.join(GRADES)} or a range such as K-2."
            raise ValueError(message)
        low, high = GRADES.index(first), GRADES.index(last or first)
        if high < low:
            message = f"“{part}” runs backwards. Write the lower grade first."
            raise ValueError(message)
        found.update(GRADES[low : high + 1])
    return frozenset(found)


def _end_called(text: str) -> str:
    return grade_called(text) if text.strip() else ""
