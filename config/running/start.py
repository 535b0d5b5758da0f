"""A server, a worker or a beat that must not run ends at once, and says why and what to do."""

import sys
from typing import Any

from django.core.checks import run_checks
from django.core.exceptions import ImproperlyConfigured

from jobs.checks import START


def refuse_if_unfit() -> None:
    """Raise ``ImproperlyConfigured`` with what is wrong and the remedy, if a check at the start fails.

    For servers, which end at an error in the module that they load. Management commands run the same checks by
    themselves.
    """
    problems = [one for one in run_checks(tags=[START]) if one.is_serious()]
    if problems:
        told = "\n\n".join(f"{one.msg}\n{one.hint}" for one in problems)
        raise ImproperlyConfigured(f"Minutes & Miles doesn't start.\n\n{told}")


def end_if_unfit(**_signal: Any) -> None:
    """The same for Celery, whose signals swallow every error but the end of the process."""
    try:
        refuse_if_unfit()
    except ImproperlyConfigured as error:
        sys.exit(str(error))
