"""Having work done that broke off."""

import uuid

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_YOUR_ROLE, audit_write
from config.work.selectors import broken_rows
from jobs.services import job_start_again

NOT_THERE = "No such work has broken off here. Perhaps it was started again already."
ASKED_SINCE = "The same was asked for since and isn't over: wait for that. Nothing was started."


def work_start_again(*, actor: Person, pk: uuid.UUID) -> None:
    """Start a piece of work again, with all its attempts; what it had found so far is kept.

    Raises `ApplicationError`: 403 for anyone but a coordinator, 404 for what didn't break off in the district, 409
    (`asked_since`) where the same was asked for since.
    """
    if actor.district is None or not actor.has_perm("district.settings"):
        raise ApplicationError(NOT_YOUR_ROLE, code="not_your_role", status=403)
    job = next((one for one in broken_rows(actor) if one.pk == pk), None)
    if job is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        if not job_start_again(job=job):
            raise ApplicationError(ASKED_SINCE, code="asked_since")
        audit_write(actor=actor, district=actor.district, action="work_start_again", row=job)
