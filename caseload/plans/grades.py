"""School grades in their order, as one word each (United States usage)."""

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


def read_grades(text: str) -> frozenset[str]:
    """Grades named in a text such as ``K-2, 5``; an empty text means every grade.

    Raises `ValueError` naming the part that can't be read.
    """
    found: set[str] = set()
    for part in filter(None, (piece.strip().upper() for piece in text.replace(";", ",").split(","))):
        first, _, last = (end.strip() for end in part.partition("-"))
        if first not in GRADES or (last and last not in GRADES):
            message = f"“{part}” isn't a grade. Use {', '.join(GRADES)} or a range such as K-2."
            raise ValueError(message)
        low, high = GRADES.index(first), GRADES.index(last or first)
        if high < low:
            message = f"“{part}” runs backwards. Write the lower grade first."
            raise ValueError(message)
        found.update(GRADES[low : high + 1])
    return frozenset(found)
