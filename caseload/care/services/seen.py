"""Writes who was shown what is written about students' care."""

import datetime as dt
from collections.abc import Collection

from accounts.models import Person
from caseload.care.models import CareView


def care_views_record(*, viewer: Person, students: Collection[int], page: str, now: dt.datetime) -> None:
    """Note that somebody was shown the care of these students, by id, on a page, by its name."""
    CareView.objects.bulk_create(
        CareView(viewer=viewer, student_id=pk, page=page[:60], seen_at=now) for pk in sorted(students)
    )
