"""What was planned and logged under a version of a service that goes stands under another one."""

from caseload.delivery.services.versions import entries_move
from caseload.plans.models import ServiceLine
from schedule.weeks.models import SessionAttendee, TimetableAttendee, UnplacedSession, WeekPlan, WeekRevision
from schedule.weeks.versions.content import content_from_json, content_to_json, lines_become, lines_in


def line_references_move(line: ServiceLine, other: ServiceLine) -> None:
    """Let sessions, sessions without a place, and log entries of a line be another one's of the same service.

    What edits of drafts can be undone to follows too. Call it inside a transaction.
    """
    SessionAttendee.objects.filter(service_line=line).update(service_line=other)
    TimetableAttendee.objects.filter(service_line=line).update(service_line=other)
    UnplacedSession.objects.filter(service_line=line).update(service_line=other)
    entries_move(line=line, other=other)
    _revisions_move(line, other)


def _revisions_move(line: ServiceLine, other: ServiceLine) -> None:
    kept = WeekRevision.objects.filter(week__district=line.district, week__status=WeekPlan.Status.DRAFT)
    for revision in kept.filter(week__last_date__gte=line.start):
        content = content_from_json(revision.content)
        if line.pk in lines_in(content):
            revision.content = content_to_json(lines_become(content, {line.pk: other.pk}))
            revision.save(update_fields=["content"])
