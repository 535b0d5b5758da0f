"""A list of what would be erased: plain JSON of ids, dates and counts, and its digest. Pure.

Its canonical form has the keys in order and no spaces, as RFC 8785 writes JSON of such values; the digest is the
SHA-256 (FIPS 180-4) of that form in UTF-8.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

FORMAT = 1
HOLD, COMPENSATORY, MONTH, PARENTS, SERVED = "hold", "compensatory", "month", "parents", "served"
UNPAID, DISCLOSURE, IN_USE = "unpaid", "disclosure", "in_use"
WHY = {
    HOLD: "records are held back",
    COMPENSATORY: "compensatory minutes are still to be given",
    MONTH: "a month of the log isn’t closed",  # noqa: RUF001 -- as pages write it
    PARENTS: "parents haven’t been told that the records are no longer needed",  # noqa: RUF001 -- as above
    SERVED: "services go on",
    UNPAID: "a voucher of the month isn’t paid, or none was made",  # noqa: RUF001 -- as above
    DISCLOSURE: "they say who saw records that are still kept",
    IN_USE: "a plan or report that is kept was made by it",
}


@dataclass(frozen=True, slots=True)
class ListedStudent:
    """Records of one kind about one student. `event` is the day that the years count from, `why` why they stay.

    `told` is when parents were told, or asked. `mark` changes with the rows, whatever their number.
    """

    student: int
    kind: str
    rule: int | None
    event: str
    told: str = ""
    tables: Mapping[str, int] = field(default_factory=dict)
    mark: str = ""
    why: tuple[str, ...] = ()

    @property
    def rows(self) -> int:
        """How many go."""
        return sum(self.tables.values())


@dataclass(frozen=True, slots=True)
class ListedKind:
    """Records of one kind of the whole district that happened on or before `until`; `stays` counts by reason."""

    kind: str
    rule: int
    until: str
    tables: Mapping[str, int]
    stays: Mapping[str, int]
    mark: str

    @property
    def rows(self) -> int:
        """How many go."""
        return sum(self.tables.values())


@dataclass(frozen=True, slots=True)
class ErasureList:
    """All of it: what goes and stays of students, and what goes of the district."""

    as_of: str
    students: tuple[ListedStudent, ...] = ()
    stays: tuple[ListedStudent, ...] = ()
    kinds: tuple[ListedKind, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing goes."""
        return not self.students and not any(one.rows for one in self.kinds)


def listing_to_json(listing: ErasureList) -> dict[str, Any]:
    """As it is kept and digested."""
    told = json.loads(json.dumps(asdict(listing)))
    return {"format": FORMAT, **told}


def listing_from_json(told: Mapping[str, Any]) -> ErasureList:
    """As it was kept."""
    return ErasureList(
        told.get("as_of", ""),
        tuple(_student(one) for one in told.get("students", ())),
        tuple(_student(one) for one in told.get("stays", ())),
        tuple(ListedKind(**one) for one in told.get("kinds", ())),
    )


def _student(told: Mapping[str, Any]) -> ListedStudent:
    return ListedStudent(**{**told, "why": tuple(told["why"])})


def listing_digest(listing: ErasureList) -> str:
    """SHA-256 of the canonical form, as 64 hex digits.

    What only stays for another reason than before is another list, too.
    """
    form = json.dumps(listing_to_json(listing), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(form.encode()).hexdigest()


def keys_mark(keys: Mapping[str, Iterable[object]]) -> str:
    """One short text of which rows of which tables these are."""
    lines = [f"{table}:{','.join(sorted(str(key) for key in found))}" for table, found in sorted(keys.items())]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]


def date_text(day: dt.date | None) -> str:
    """``2026-09-14``, empty for none."""
    return day.isoformat() if day is not None else ""
