"""The project itself: the checks of its settings."""

from django.apps import AppConfig
from django.core.checks import Tags, register

from config.checks import key_fit_for_deploy, key_fit_for_start
from jobs.checks import START


class ProjectConfig(AppConfig):
    """The top floor."""

    name = "config"

    def ready(self) -> None:
        """Register the checks."""
        register(key_fit_for_start, START)
        register(key_fit_for_deploy, Tags.security, deploy=True)
