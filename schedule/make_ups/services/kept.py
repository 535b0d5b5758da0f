"""What a run over make-ups has found so far, kept with its row: one that is interrupted goes on from there.

Kept is where each make-up fits by itself, which takes most of the time. Which of these go together is chosen anew,
and judged in the weeks as they then stand.
"""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from time import monotonic
from typing import Any

from schedule.make_ups.choosing import MakeUpOption
from schedule.make_ups.selectors.options import Look, Offer, Piece, Places
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.weeks.planning.load import monday_of
from schedule.weeks.services.kept import Write
from schedule.weeks.versions.content import WeekContent, content_from_json, content_to_json

WRITE_AGAIN = 5.0
"""Seconds between two writes: the places of many make-ups are some thousand rows."""


@dataclass(slots=True)
class MakeUpsKept:
    """Places by make-up, and when they were written last. ``clock`` gives seconds.

    ``pieces`` says whose minutes they are of: the numbers in what is kept mean these.
    """

    write: Write
    pieces: list[list[Any]]
    offers: dict[str, Any] = field(default_factory=dict)
    clock: Callable[[], float] = monotonic
    _written: float = float("-inf")

    @classmethod
    def of(cls, write: Write, pieces: Sequence[Piece], kept: Mapping[str, Any]) -> "MakeUpsKept":
        """From what a run's row holds; nothing of it where other minutes are open by now."""
        mine = [[piece.need.line.pk, piece.one.minutes, piece.one.due.isoformat()] for piece in pieces]
        return cls(write, mine, dict(kept["offers"]) if kept.get("pieces") == mine else {})

    def looking(self, weeks: Sequence[MakeUpWeek], look: Look) -> Look:
        """Look for the places of a make-up, or take those that are kept."""
        by_monday = {week.monday: week for week in weeks}

        def looked(offer: Offer) -> Places:
            name = _name(offer)
            if name in self.offers:
                return _places_from_json(self.offers[name], by_monday)
            found = look(offer)
            self.offers[name] = _places_to_json(found)
            self._tick()
            return found

        return looked

    def _tick(self) -> None:
        if self.clock() - self._written >= WRITE_AGAIN:
            self.write({"pieces": self.pieces, "offers": self.offers})
            self._written = self.clock()


def _name(offer: Offer) -> str:
    lines = "-".join(map(str, offer.make_up.lines))
    gives = " ".join(f"{piece}:{minutes}" for piece, minutes in offer.gives)
    return f"{lines} {offer.make_up.minutes} {gives}"


def _places_to_json(places: Places) -> dict[str, Any]:
    sessions = tuple(session for _, session in places.values())
    options = [{**asdict(one), "day": one.day.isoformat()} for one in places]
    return {"options": options, "content": content_to_json(WeekContent(sessions=sessions))}


def _places_from_json(plain: Mapping[str, Any], weeks: Mapping[dt.date, MakeUpWeek]) -> Places:
    """Without places in a week that can't be planned anymore."""
    sessions = content_from_json(plain["content"]).sessions
    found = ((_option(one), session) for one, session in zip(plain["options"], sessions, strict=True))
    return {
        option: (weeks[monday_of(session.date)], session)
        for option, session in found
        if monday_of(session.date) in weeks
    }


def _option(plain: Mapping[str, Any]) -> MakeUpOption:
    gives = tuple((piece, minutes) for piece, minutes in plain["gives"])
    day = dt.date.fromisoformat(plain["day"])
    return MakeUpOption(**{**plain, "day": day, "gives": gives, "apart": tuple(plain["apart"])})
