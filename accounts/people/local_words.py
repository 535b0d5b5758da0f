"""Passwords that somebody of the place would guess: names of the program, the district and its buildings.

OWASP ASVS 5.0, 6.2.11, asks for such words; which they are is said in docs/running.md, *Wrong tries*.
"""

import re
from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ValidationError

from accounts.models import Person
from accounts.people.hooks import office_buildings

OF_THE_PROGRAM = ("Minutes", "Miles", "School", "Schools", "District", "Teacher", "Coordinator", "Password")
SHORTEST, LEFT_OVER = 4, 6
"""Letters of a word that counts, and how many letters must be left of a password without all of these words."""
TOO_LOCAL = (
    "This password is little more than names that everybody here knows, such as the district's or a school's. "
    "Put other words into it."
)
LETTERS = re.compile(r"[^\W\d_]+")


def local_words(names: Iterable[str]) -> frozenset[str]:
    """The words of some names, in small letters; short ones such as “of” don't count."""
    found = (word.casefold() for name in (*OF_THE_PROGRAM, *names) for word in LETTERS.findall(name))
    return frozenset(word for word in found if len(word) >= SHORTEST)


def is_too_local(password: str, words: Iterable[str]) -> bool:
    """Whether hardly any letters are left without these words; digits and signs between them are no secret."""
    letters = "".join(LETTERS.findall(password.casefold()))
    left = letters
    for word in sorted(words, key=len, reverse=True):
        left = left.replace(word, " ")
    return left != letters and len(left.replace(" ", "")) < LEFT_OVER


class LocalWordsValidator:
    """Refuses a password that is made of local names (a validator as Django's settings name them)."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raise `ValidationError`."""
        names = _names_around(user) if isinstance(user, Person) else ()
        if is_too_local(password, local_words(names)):
            raise ValidationError(TOO_LOCAL, code="password_too_local")

    def get_help_text(self) -> str:
        """For forms."""
        return "Not only names that everybody here knows."


def _names_around(person: Person) -> list[str]:
    if person.district is None:
        return []
    buildings = office_buildings().every().filter(district=person.district_id)
    return [person.district.name, *buildings.values_list("name", flat=True)]
