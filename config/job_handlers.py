"""Background work of the project itself (found by the jobs floor at start)."""

from config import invitations
from config.password_links import KIND, link_mail
from jobs.context import JobContext
from jobs.registry import job_handler


@job_handler(KIND)
def mail_password_link(context: JobContext) -> None:
    """Mail a link; after an interruption it may go twice, and either works."""
    link_mail(person_id=context.payload["person"], site=context.payload["site"])


@job_handler(invitations.KIND)
def mail_invitations(context: JobContext) -> None:
    """Mail invitations, each once."""
    invitations.invitations_mail(context)
