"""The accounts floor: districts, people, roles, scoping, audit."""

from importlib import import_module

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Holds who may see what."""

    name = "accounts"

    def ready(self) -> None:
        """Register the permissions: they need the models, which are only there now."""
        import_module("accounts.permissions")
