"""The jobs floor: background work."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class JobsConfig(AppConfig):
    """Runs work outside the request."""

    name = "jobs"

    def ready(self) -> None:
        """Find the handlers of all apps, so that each process can do each kind of job."""
        autodiscover_modules("job_handlers")
