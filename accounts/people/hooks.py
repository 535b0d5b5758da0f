"""What floors above know and hand down at the start: an office's buildings, how a mail is sent later, and what a
substitution does to the log.

This floor must not import them (travel.apps, schedule.apps and config.apps register).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from django.db.models import QuerySet

from accounts.models import Person


class SaveOffices(Protocol):
    """Ties a person to buildings by their ids, in the transaction that saved the person."""

    def __call__(self, *, actor: Person, person: Person, wanted: set[int]) -> None:
        """Raises `ValidationError` under ``buildings``."""


@dataclass(frozen=True, slots=True)
class OfficeBuildings:
    """What the floor above answers: every building, those in sight, a person's own, and how a choice is saved."""

    every: Callable[[], QuerySet[Any]]
    visible_to: Callable[[Person], QuerySet[Any]]
    chosen: Callable[[Person], set[int]]
    save: SaveOffices


_known: list[OfficeBuildings] = []


def office_buildings_add(buildings: OfficeBuildings) -> None:
    """Register who answers; a second time replaces the first."""
    _known[:] = [buildings]


def office_buildings() -> OfficeBuildings:
    """Who answers. Raises `LookupError` before the application has started."""
    if not _known:
        message = "No floor has said which buildings an office sees."
        raise LookupError(message)
    return _known[0]


class SendLink(Protocol):
    """Has the link by which a person chooses a password mailed, after the transaction and outside of the page."""

    def __call__(self, *, person: Person, site: str) -> None:
        """`site`: scheme and host of the link. More than a few within an hour are left out in silence."""


_senders: list[SendLink] = []


def link_sender_add(sender: SendLink) -> None:
    """Register who sends; a second time replaces the first."""
    _senders[:] = [sender]


def link_send_later(person: Person, site: str) -> None:
    """Have the link mailed. Raises `LookupError` before the application has started."""
    if not _senders:
        message = "Nobody has said how links are mailed."
        raise LookupError(message)
    _senders[0](person=person, site=site)


type CoverForeseer = Callable[[Person, Callable[[], object]], list[str]]
"""Tries a change of a substitution and says in sentences what it does to the log; leaves nothing of it."""

_foreseers: list[CoverForeseer] = []


def cover_effects_add(foreseer: CoverForeseer) -> None:
    """Register who says it; a second time replaces the first."""
    _foreseers[:] = [foreseer]


def cover_effects(actor: Person, act: Callable[[], object]) -> list[str]:
    """What entering, changing or deleting a substitution would do to the log. Raises what the act raises."""
    return [text for foreseer in _foreseers for text in foreseer(actor, act)]
