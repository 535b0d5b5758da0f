"""What was planned and logged under a version of a service that goes stands under another one."""

from caseload.delivery.services.versions import entries_move
from caseload.plans.models import ServiceLine
from schedule.weeks.models import SessionAttendee, UnplacedSession


def line_references_move(line: ServiceLine, other: ServiceLine) -> None:
    """Let sessions, sessions without a place, and log entries of a line be another one's of the same service.

    Call it inside a transaction.
    """
    SessionAttendee.objects.filter(service_line=line).update(service_line=other)
    UnplacedSession.objects.filter(service_line=line).update(service_line=other)
    entries_move(line=line, other=other)
