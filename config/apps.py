"""The project itself: the checks of its settings."""

from importlib import import_module

from django.apps import AppConfig
from django.core.checks import Tags, register

from accounts.sign_in.provider.checks import provider_is_whole
from config.running.checks import secrets_are_the_owners
from config.running.scanning import scanner_address_reads
from jobs.checks import START


class ProjectConfig(AppConfig):
    """The top floor."""

    name = "config"

    def ready(self) -> None:
        """Register the checks, and how mails about signing in are sent."""
        register(secrets_are_the_owners, Tags.security, deploy=True)
        register(provider_is_whole, Tags.security, deploy=True)
        register(scanner_address_reads, START)
        links = import_module("config.password_links")
        import_module("accounts.people.hooks").link_sender_add(links.link_ask)
        mails = import_module("config.invitations")
        import_module("accounts.invitations.hooks").invitation_sender_add(mails.invitations_ask)
