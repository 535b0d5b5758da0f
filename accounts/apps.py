"""The accounts floor: districts, people, roles, scoping, audit."""

from importlib import import_module

from django.apps import AppConfig
from django.urls import register_converter


class AccountsConfig(AppConfig):
    """Holds who may see what."""

    name = "accounts"

    def ready(self) -> None:
        """Register the permissions, which need the models, and the addresses' ids, before any address is read."""
        import_module("accounts.permissions")
        register_converter(import_module("accounts.fields").IdConverter, "id")
