"""What every page knows of the caseload."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from accounts.models import Person
from caseload.plans import names
from caseload.plans.naming import CODES_ONLY, StudentNames


def student_names(request: HttpRequest) -> dict[str, Any]:
    """`names`: how students are called for whoever looks; nothing is read on a page that doesn't ask."""

    def read() -> StudentNames:
        return names.student_names(request.user) if isinstance(request.user, Person) else CODES_ONLY

    return {"names": SimpleLazyObject(read)}
