"""Posts: how much of a full post a teacher has, from which base, in which field, where not; from a day on.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for anybody but a coordinator, 404 for what is
out of sight.
"""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from accounts.services import record_change, record_remove
from schedule.assigning.models import TeacherPost

PERMISSION = "assigning.plan"


def post_save(*, actor: Person, row: TeacherPost, values: Mapping[str, Any]) -> TeacherPost:
    """Save what a teacher is employed for from a day on; weeks stay as they are."""
    return record_change(actor=actor, row=row, values=values, action="post_save", permission=PERMISSION)


def post_delete(*, actor: Person, row: TeacherPost) -> None:
    """Delete one; the post before goes on."""
    record_remove(actor=actor, row=row, action="post_delete", permission=PERMISSION)
