"""The jobs floor: background work."""

from django.apps import AppConfig
from django.core.checks import register
from django.utils.module_loading import autodiscover_modules

from jobs.checks import START, broker_usable


class JobsConfig(AppConfig):
    """Runs work outside the request."""

    name = "jobs"

    def ready(self) -> None:
        """Find the handlers of all apps, so that each process can do each kind of job; register the checks."""
        register(broker_usable, START)
        autodiscover_modules("job_handlers")
