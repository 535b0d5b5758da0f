"""Taking a student's name out of texts that are about something else. Pure.

Only first and last name together, in any of the usual orders, and the code between its marks: a first name alone
may be anybody's, a last name alone a school's.
"""

import json
import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from caseload.plans.naming import marked

ERASED = "[erased]"


@dataclass(frozen=True)
class NameTexts:
    """The texts by which a student is known."""

    first: str
    last: str
    code: str

    @cached_property
    def texts(self) -> tuple[str, ...]:
        """As they may stand in a sentence."""
        first, last = self.first.strip(), self.last.strip()
        both = (f"{first} {last}", f"{last}, {first}", f"{last} {first}") if first and last else ()
        return (*both, marked(self.code))

    @cached_property
    def in_json(self) -> tuple[str, ...]:
        """As they may stand in the text of a JSON column, which some databases write in ASCII."""
        return tuple(dict.fromkeys((*self.texts, *(json.dumps(one)[1:-1] for one in self.texts))))

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        words = "|".join(r"\s+".join(re.escape(part) for part in one.split()) for one in self.texts)
        return re.compile(rf"(?<!\w)(?:{words})(?!\w)", re.IGNORECASE)

    def taken_out(self, text: str, most: int | None = None) -> str:
        """A text without them, cut to so many characters."""
        return self._pattern.sub(ERASED, text)[:most]

    def taken_out_of_json(self, value: Any, whole: Collection[str] = ()) -> Any:
        """A JSON value without them, and without texts that are nothing but one of `whole`."""
        match value:
            case str():
                return ERASED if value in whole else self.taken_out(value)
            case list():
                return [self.taken_out_of_json(one, whole) for one in value]
            case dict():
                return {self.taken_out(key): self.taken_out_of_json(one, whole) for key, one in value.items()}
        return value
