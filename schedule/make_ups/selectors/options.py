"""The options of placing many make-ups together: what may be placed, and every place where it fits by itself."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from schedule.make_ups.choosing import MakeUpOption
from schedule.make_ups.minutes import JOINED_SESSIONS, OpenMinutes, joined_open, piece_lengths, pieces_to_place
from schedule.make_ups.selectors.needs import MakeUpNeed
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.make_ups.selectors.slots import avoided_days, keeps_apart
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.versions.content import SessionContent


@dataclass(frozen=True, slots=True)
class Piece:
    """Open minutes of one service that are to be placed."""

    need: MakeUpNeed
    one: OpenMinutes

    @property
    def code(self) -> str:
        """Whose they are."""
        return self.need.student.marked_code


@dataclass(frozen=True, slots=True)
class Offer:
    """A make-up that may be placed, and the minutes that it gives to each of some pieces by their number."""

    make_up: MakeUp
    gives: tuple[tuple[int, int], ...]


def pieces_of(needs: Iterable[MakeUpNeed]) -> list[Piece]:
    """What is open of services, the earliest date first; without what is too little for a session."""
    found = [Piece(need, one) for need in needs if not need.too_few for one in joined_open(need.open, need.lengths)]
    return sorted(found, key=lambda piece: (piece.one.due, -piece.one.minutes, piece.code, piece.need.line.pk))


def whole_offers(pieces: Sequence[Piece]) -> list[Offer]:
    """Each piece at the whole length missed (what no session was missed for in usual sessions), and groups."""
    alone = [
        Offer(MakeUp((piece.need.line.pk,), minutes), ((number, minutes),))
        for number, piece in enumerate(pieces)
        for minutes in sorted(set(_lengths(piece)))
    ]
    return [*alone, *_group_offers(pieces)]


def _lengths(piece: Piece) -> tuple[int, ...]:
    if piece.one.missed is not None and piece.one.minutes <= JOINED_SESSIONS * piece.need.usual:
        return (piece.one.minutes,)
    return pieces_to_place(piece.one.minutes, piece.need.usual)


def _group_offers(pieces: Sequence[Piece]) -> Iterator[Offer]:
    """Sessions that several missed together, for all of them at once."""
    groups: dict[str, list[int]] = defaultdict(list)
    for number, piece in enumerate(pieces):
        if piece.one.session:
            groups[piece.one.session].append(number)
    for numbers in groups.values():
        members = {pieces[number].need.line.pk: number for number in numbers}
        if len(members) > 1:
            minutes = max(pieces[number].one.minutes for number in members.values())
            gives = tuple((number, min(minutes, pieces[number].one.minutes)) for number in members.values())
            yield Offer(MakeUp(tuple(sorted(members)), minutes), gives)


def half_offers(pieces: Sequence[Piece], numbers: Collection[int]) -> list[Offer]:
    """The halves of some pieces, where neither is too short to be a session."""
    found: list[Offer] = []
    for number in sorted(numbers):
        piece = pieces[number]
        for whole in set(_lengths(piece)):
            half = -(-whole // 2)
            if half < whole and half in piece_lengths(whole, piece.need.lengths):
                halves = sorted({half, whole - half})
                found += [Offer(MakeUp((piece.need.line.pk,), one), ((number, one),)) for one in halves]
    return found


@dataclass(slots=True)
class PlacedOptions:
    """Options with the session and the week that each stands for."""

    weeks: Sequence[MakeUpWeek]
    places: dict[MakeUpOption, tuple[MakeUpWeek, SessionContent]]

    def judge(self, options: tuple[MakeUpOption, ...]) -> int | None:
        """Minutes of driving that options of one week add together; None where they don't go together."""
        week = self.places[options[0]][0]
        return week.together([self.places[one][1] for one in options])

    def moves(self) -> dict[tuple[str, str], int]:
        """The fewest minutes of driving between two buildings, by their codes."""
        found: dict[tuple[str, str], int] = {}
        for week in self.weeks:
            for origin, row in week.loaded.problem.drive_minutes.items():
                for to, minutes in row.items():
                    found[origin, to] = min(minutes, found.get((origin, to), minutes))
        return found


type Places = Mapping[MakeUpOption, tuple[MakeUpWeek, SessionContent]]
type Look = Callable[[Offer], Places]
"""Every place where a make-up fits by itself."""


def placed_options(
    weeks: Sequence[MakeUpWeek],
    pieces: Sequence[Piece],
    look: Look,
    told: Callable[[Offer, int, int], bool],
) -> PlacedOptions:
    """Every place where something fits by itself, as `look` finds them; halves only of what fits nowhere whole.

    `told` hears of each offer before it is looked for, with how many were and are to be; once it answers no, what
    is found so far is given.
    """
    found = PlacedOptions(weeks, {})
    wholes = whole_offers(pieces)
    for number, offer in enumerate(wholes):
        if not told(offer, number, len(wholes)):
            return found
        found.places |= look(offer)
    fitting = {piece for option in found.places for piece, _ in option.gives}
    for offer in half_offers(pieces, set(range(len(pieces))) - fitting):
        found.places |= look(offer)
    return found


def places_of(weeks: Sequence[MakeUpWeek], pieces: Sequence[Piece], first: dt.date, offer: Offer) -> Places:
    """Every place from a date on where a make-up fits by itself."""
    members = [pieces[number] for number, _ in offer.gives]
    lines = [piece.need.line for piece in members]
    apart = tuple(line.pk for line in lines if keeps_apart(line))
    missed = members[0].one.missed
    found: dict[MakeUpOption, tuple[MakeUpWeek, SessionContent]] = {}
    for week in weeks:
        for place in week.places(offer.make_up, first, avoided_days(week, lines)):
            slot = place.slot
            late = sum(minutes for number, minutes in offer.gives if slot.date > pieces[number].one.due)
            option = MakeUpOption(
                slot.date,
                slot.start,
                slot.end,
                slot.building_code,
                offer.gives,
                max(slot.added_drive_minutes, 0),
                late,
                apart,
            )
            found[option] = week, replace(place.session, makes_up_for=missed)
    return found


def make_ups_tried(pieces: Sequence[Piece]) -> set[MakeUp]:
    """Every make-up that a week must have room for."""
    return {one.make_up for one in [*whole_offers(pieces), *half_offers(pieces, range(len(pieces)))]}
