"""Students in what is told: kept by marked code, and called at the last moment as the way allows. Pure."""

import re
from collections.abc import Mapping, Sequence

from caseload.plans.naming import CLOSES, OPENS, marked

_CODE = re.compile(f"{OPENS}([^{OPENS}{CLOSES}]*){CLOSES}")
_CLAUSE = re.compile(f" \\((?:{_CODE.pattern}(?:, )?)+\\)")

type Who = Mapping[str, Sequence[str]]
"""Codes of who comes to each session, by its uid."""


def who_words(codes: Sequence[str]) -> str:
    """Who comes, as a line carries it; nothing where nobody is known."""
    return f" ({', '.join(map(marked, codes))})" if codes else ""


def codes_in(text: str) -> list[str]:
    """The codes that a text names, each once."""
    return list(dict.fromkeys(found[1] for found in _CODE.finditer(text)))


def without_students(text: str) -> str:
    """The text as it is without anybody in it."""
    return _CODE.sub("", _CLAUSE.sub("", text))


def with_students(text: str, called: Mapping[str, str]) -> str:
    """The text with what each is called, by code. Whoever isn't there is left out."""

    def clause(found: "re.Match[str]") -> str:
        words = [called[code] for code in codes_in(found[0]) if code in called]
        return f" ({', '.join(words)})" if words else ""

    return without_students(_CLAUSE.sub(clause, text))
