"""Whose minutes one planning of make-ups is about."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from accounts.models import Person
from schedule.make_ups.minutes import OpenMinutes
from schedule.make_ups.selectors.needs import MakeUpNeed, make_up_needs


@dataclass(frozen=True, slots=True)
class Which:
    """Whose minutes a run places: those of some lines (all of them if None), and minutes `ahead` by line.

    The latter aren't missed yet, such as those of a week with days off.
    """

    lines: tuple[int, ...] | None = None
    ahead: Mapping[int, tuple[OpenMinutes, ...]] = field(default_factory=dict)

    def needs(self, actor: Person, teacher: Person, today: dt.date) -> list[MakeUpNeed]:
        """What is open of it."""
        every = (one for one in make_up_needs(actor, teacher, today, self.ahead) if one.open)
        return [one for one in every if self.lines is None or one.line.pk in self.lines]

    def as_json(self) -> dict[str, Any]:
        """For the job: ids, minutes and dates."""
        rows = [
            [line, one.minutes, one.due.isoformat(), one.since]
            for line, open_ in self.ahead.items()
            for one in open_
        ]
        return {"lines": self.lines, "ahead": rows}


def which_from_json(plain: Mapping[str, Any]) -> Which:
    """What `as_json` wrote; everything that is open where a job says nothing."""
    ahead: dict[int, tuple[OpenMinutes, ...]] = {}
    for line, minutes, due, since in plain.get("ahead", ()):
        ahead[line] = (*ahead.get(line, ()), OpenMinutes(minutes, dt.date.fromisoformat(due), since))
    lines = plain.get("lines")
    return Which(None if lines is None else tuple(lines), ahead)
