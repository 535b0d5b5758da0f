"""What stands on the cards of a rotation: each station's and each adult's hour, read out of the rounds."""

from dataclasses import dataclass

from schedule.stations.selectors.showing import RotationView, StationTurn


@dataclass(frozen=True, slots=True)
class CardLine:
    """One round on a card: when, and who or where."""

    number: int
    begins: str
    text: str


@dataclass(frozen=True, slots=True)
class StationCard:
    """A station's hour: who comes when, and which adults are there."""

    station: int
    name: str
    lines: tuple[CardLine, ...]


@dataclass(frozen=True, slots=True)
class AdultCard:
    """An adult's hour: what the adult does, where, and with whom."""

    name: str
    does: str
    lines: tuple[CardLine, ...]


def station_cards(view: RotationView) -> tuple[StationCard, ...]:
    """One for each station, in their order."""
    first = view.rounds[0].stations if view.rounds else ()
    return tuple(
        StationCard(
            one.station,
            one.name,
            tuple(CardLine(turn.number, turn.begins, _people(turn.stations[index])) for turn in view.rounds),
        )
        for index, one in enumerate(first)
    )


def _people(here: StationTurn) -> str:
    names = ", ".join(one.name for one in here.students)
    if not names:
        return "nobody"
    return f"{names}; with {', '.join(here.adults)}" if here.adults else names


def adult_cards(view: RotationView) -> tuple[AdultCard, ...]:
    """One for each adult."""
    return tuple(
        AdultCard(
            one.name,
            one.does,
            tuple(
                CardLine(turn.number, turn.begins, _hour(view, turn.number - 1, one.stations[turn.number - 1]))
                for turn in view.rounds
            ),
        )
        for one in view.adults
    )


def _hour(view: RotationView, turn: int, station: str) -> str:
    if not station:
        return "where needed"
    here = next(one for one in view.rounds[turn].stations if one.name == station)
    names = ", ".join(one.name for one in here.students)
    return f"{station}: {names}" if names else station
