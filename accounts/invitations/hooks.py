"""What a floor above hands down at the start: how invitations are mailed later, outside of the page."""

from collections.abc import Sequence
from typing import Protocol


class MailInvitations(Protocol):
    """Has invitations mailed after the transaction."""

    def __call__(self, pks: Sequence[int], site: str, district: int) -> None:
        """`pks`: keys of invitations of one district; `site`: scheme and host of their links."""


_senders: list[MailInvitations] = []


def invitation_sender_add(sender: MailInvitations) -> None:
    """Register who sends; a second time replaces the first."""
    _senders[:] = [sender]


def invitations_mail_later(pks: Sequence[int], site: str, district: int) -> None:
    """Have them mailed. Raises `LookupError` before the application has started."""
    if not _senders:
        message = "Nobody has said how invitations are mailed."
        raise LookupError(message)
    _senders[0](pks, site, district)
