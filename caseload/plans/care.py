"""Supports and cautions as they stand with a student's name, and whom to ask before an activity.

What is read for whom is decided by `caseload.plans.selectors.care_of`; here are the values and the one sentence.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

ASK_FIRST = (
    "Ask before this activity: follow the student's plan; the physician, school nurse, physical therapist or the "
    "plan's team decides."
)
"""Goes with every caution. A page says it once, however many cautions are on it."""

_WORDS = r"\s+".join(re.escape(word).replace("'", "['\u2019]") for word in ASK_FIRST.rstrip(".").split())
_ASKED_AT_END = re.compile(rf"\s*{_WORDS}\.?\Z", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Care:
    """What is written down about one student, for somebody who may see that student; empty where nothing is.

    `ask_first`: whom to ask before an activity, wherever there is a caution.
    """

    supports: str = ""
    cautions: str = ""
    ask_first: str = ""

    @property
    def is_written(self) -> bool:
        """Whether there is anything to show."""
        return bool(self.supports or self.cautions)


def care_written(supports: str, cautions: str) -> Care:
    """The student's own texts, with whom to ask where there is a caution.

    A caution that was written with that very sentence at its end is shown without it: a page says it once. Whoever
    wrote whom else to ask is left as written.
    """
    warned = cautions.strip()
    own = _ASKED_AT_END.sub("", warned) or warned
    return Care(supports.strip(), own, ASK_FIRST if warned else "")


def ask_first_among(cares: Iterable[Care | None]) -> str:
    """The sentence for a page that shows these students: once, and empty where nobody has a caution."""
    return next((one.ask_first for one in cares if one is not None and one.ask_first), "")
