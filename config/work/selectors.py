"""What broke off in a district."""

import datetime as dt
import uuid
from dataclasses import dataclass

from accounts.models import Person
from jobs.models import Job
from jobs.selectors import broken_off

MOST = 200
"""The latest; whoever has more of them has another trouble."""
WORDS = {
    "plan_week": "Planning a week",
    "plan_term": "Planning a term",
    "term_curve": "Weighing a term's routine against its driving",
    "plan_make_ups": "Planning make-ups",
    "find_favours": "Looking for favors that would help a week",
    "weigh_changes": "Weighing changes to a week",
    "district_report": "The district's report",
    "count_teacher": "Counting a teacher for the district's figures",
    "erase_records": "Erasing records whose years are over",
    "plan_together": "Planning several teachers together",
    "long_step": "Writing the records of many students at once",
    "assign_students": "Looking for proposals who serves whom",
    "assign_part": "A part of looking for proposals who serves whom",
    "read_busy_calendar": "Reading a teacher's own calendar",
    "read_school_calendar": "Reading a school calendar",
    "check_import": "Checking an import",
    "save_import": "Saving an import",
    "compare_days": "Looking for changes that people are told of",
    "send_notice": "Sending a message",
    "password_link": "Sending a link for a new password",
    "invitations": "Sending invitations",
}
"""What each kind of work does."""


@dataclass(frozen=True, slots=True)
class BrokenWork:
    """One piece of work. Names nobody: what it was about is seen where it was asked for."""

    id: uuid.UUID
    what: str
    asked_at: dt.datetime
    broke_off_at: dt.datetime | None
    attempts: int
    reason: str


def broken_rows(viewer: Person) -> list[Job]:
    """The jobs that broke off in the viewer's district, the latest first; none for anyone but a coordinator."""
    if viewer.district_id is None or not viewer.has_perm("district.settings"):
        return []
    return list(broken_off(viewer.district_id)[:MOST])


def broken_work(viewer: Person) -> list[BrokenWork]:
    """The same in words."""
    return [
        BrokenWork(
            id=job.pk,
            what=WORDS.get(job.kind, "Other work"),
            asked_at=job.created_at,
            broke_off_at=job.ended_at,
            attempts=job.attempts,
            reason=job.error,
        )
        for job in broken_rows(viewer)
    ]
