"""Services of one version, as most tests of the ledger need them."""

import datetime as dt
from dataclasses import replace
from typing import Any

from caseload.ledger.terms import LedgerLine, Terms
from caseload.plans.frequency import Frequency


def one_line(
    name: str, frequency: Frequency, first: dt.date, last: dt.date, anchor: dt.date | None = None
) -> LedgerLine:
    """A service whose terms never change."""
    return LedgerLine(name, (Terms(name, frequency, first, last, anchor),))


def changed(line: LedgerLine, **values: Any) -> LedgerLine:
    """The same service with other values of its only version."""
    (terms,) = line.terms
    return replace(line, terms=(replace(terms, **values),))
