"""Supports and cautions as they stand with a student's name, and whom to ask before an activity.

What is read for whom is decided by `caseload.care.selectors`; here are the values and the one sentence.
"""

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass

WHO_DECIDES = "the physician, school nurse, physical therapist or the plan's team"
ASK_FIRST = f"Ask before this activity: follow the student's plan; {WHO_DECIDES} decides."
"""Goes with every caution. A page says it once, however many cautions are on it."""

ON_RECORD = "Student's record"
"""The source of the one support and the one caution that the student's own record has as plain text."""

LEAVES_THE_ROOM = "leaving the room"
"""The tag of a caution about a student who tends to: places that are far apart are advised against."""

FIRST_TAGS = (
    "height", "water", "heat", "latex", "flashing light", "contact", "exertion", "noise", "small parts",
    LEAVES_THE_ROOM,
)  # fmt: skip
"""The tags that a district begins with. Common practice, no source; each district adds its own."""

_WORDS = r"\s+".join(re.escape(word).replace("'", "['\u2019]") for word in ASK_FIRST.rstrip(".").split())
_ASKED_AT_END = re.compile(rf"\s*{_WORDS}\.?\Z", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SupportTold:
    """One support. `label`: what it is about; empty for a plain one. `source` and `written_on`: where it stands."""

    id: int
    label: str
    text: str
    source: str
    written_on: dt.date | None
    is_provisional: bool

    @property
    def line(self) -> str:
        """What it is about, and what it says."""
        return f"{self.label}: {self.text}" if self.label else self.text


@dataclass(frozen=True, slots=True)
class CautionTold:
    """One caution. `emergency_steps`: one step each; `whom`: who decides."""

    id: int
    label: str
    text: str
    tags: tuple[str, ...]
    emergency_steps: tuple[str, ...]
    whom: str
    source: str
    written_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Care:
    """What is written down about one student, for somebody who may see that student; empty where nothing is.

    `supports` and `cautions` are the texts of the lists beside them, a line each. `ask_first`: whom to ask before
    an activity, wherever there is a caution. `told` is False on a page on which nothing of it may stand.
    """

    supports: str = ""
    cautions: str = ""
    ask_first: str = ""
    supports_listed: tuple[SupportTold, ...] = ()
    cautions_listed: tuple[CautionTold, ...] = ()
    told: bool = True

    @property
    def is_written(self) -> bool:
        """Whether there is anything to show."""
        return bool(self.supports or self.cautions)

    @property
    def has_steps(self) -> bool:
        """Whether a caution says what to do in an emergency."""
        return any(one.emergency_steps for one in self.cautions_listed)


@dataclass(frozen=True, slots=True)
class CautionMet:
    """A caution that something in an activity or a place meets: `tags` by name; `whom` decides.

    It says whom to ask, never that anything is allowed; nothing met says nothing about what isn't written down.
    """

    student: int
    caution: int
    tags: tuple[str, ...]
    whom: str


def care_told(supports: Iterable[SupportTold], cautions: Iterable[CautionTold]) -> Care:
    """What is written about a student, with whom to ask where there is a caution."""
    helping, warning = tuple(supports), tuple(cautions)
    return Care(
        "\n".join(one.line for one in helping),
        "\n".join(one.text for one in warning),
        ASK_FIRST if warning else "",
        helping,
        warning,
    )


def caution_written(text: str) -> str:
    """A caution without the sentence about whom to ask at its end: a page says that once.

    Whoever wrote whom else to ask is left as written, and so is a caution that says nothing else.
    """
    warned = text.strip()
    return _ASKED_AT_END.sub("", warned) or warned


def steps_of(text: str) -> tuple[str, ...]:
    """Emergency steps, one a line."""
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def whom_told(decides: str) -> str:
    """Who decides: whom the caution names, else those whom a plan names."""
    return decides.strip() or WHO_DECIDES


def ask_first_among(cares: Iterable[Care | None]) -> str:
    """The sentence for a page that shows these students: once, and empty where nobody has a caution."""
    return next((one.ask_first for one in cares if one is not None and one.ask_first), "")
