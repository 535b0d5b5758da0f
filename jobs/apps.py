"""The jobs floor: background work."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    """Runs work outside the request."""

    name = "jobs"
