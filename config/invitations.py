"""Mails of invitations, sent by jobs of a few each: nobody waits at a page for the mail server."""

from collections.abc import Sequence

from accounts.invitations.services import invitation_mail_now
from accounts.people.mailing import NOT_SENT
from jobs.context import JobContext
from jobs.errors import JobError
from jobs.services import job_add

KIND = "invitations"
AT_ONCE = 20
"""Mails of one job: so many are tried before another job has its turn."""


def invitations_ask(pks: Sequence[int], site: str, district: int) -> None:
    """Have them mailed after the transaction."""
    for begin in range(0, len(pks), AT_ONCE):
        job_add(
            kind=KIND, payload={"invitations": list(pks[begin : begin + AT_ONCE]), "site": site}, district=district
        )


def invitations_mail(context: JobContext) -> None:
    """Mail each once; what was mailed before an interruption isn't mailed again. Raises `JobError`."""
    refused = 0
    for pk in context.payload["invitations"]:
        refused += not invitation_mail_now(pk=pk, site=context.payload["site"])
    if refused:
        message = f"{NOT_SENT} It was so for {refused} of them: the page of invitations names whom."
        raise JobError(message)
