"""The project itself: the checks of its settings."""

from django.apps import AppConfig
from django.core.checks import Tags, register

from config.checks import secrets_are_the_owners


class ProjectConfig(AppConfig):
    """The top floor."""

    name = "config"

    def ready(self) -> None:
        """Register the checks."""
        register(secrets_are_the_owners, Tags.security, deploy=True)
