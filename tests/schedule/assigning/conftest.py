"""What the tests of who serves whom share."""

import pytest

from schedule.assigning.services import parts


@pytest.fixture(autouse=True)
def short_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five students are soon shared out: a minute of search is a second of work here."""
    monkeypatch.setattr(parts, "A_MINUTE", 1.0)
