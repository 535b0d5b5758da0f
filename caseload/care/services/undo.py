"""What was done to a student's care last, taken back."""

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, permission_require
from accounts.services.undo import NOTHING_TO_UNDO, change_undo
from caseload.care.selectors import CARE_MODELS, UNDO, last_change
from caseload.care.services.records import PERMISSION
from caseload.plans.models import SchoolClass, Student


def care_take_back(*, actor: Person, about: Student | SchoolClass, seen: int | None = None) -> None:
    """Undo what was done last to a student's care or a class's contacts.

    What was added goes, what was removed is there again. `seen`: the id of the change that the person saw. Raises
    `ApplicationError`: ``nothing_to_undo``, ``changed_since``, 403 for the role, 404 for what is out of sight.
    """
    permission_require(actor, PERMISSION)
    if not type(about).objects.changeable_by(actor).filter(pk=about.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        last = last_change(about)
        if last is None or seen not in {None, last.entry.pk}:
            raise ApplicationError(NOTHING_TO_UNDO, code="nothing_to_undo")
        change_undo(
            actor=actor, model=CARE_MODELS[last.entry.model], entry=last.entry, action=UNDO, permission=PERMISSION
        )
