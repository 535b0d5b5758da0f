"""The accounts floor: districts, people, roles, scoping, audit."""

from importlib import import_module

from django.apps import AppConfig
from django.urls import register_converter


class AccountsConfig(AppConfig):
    """Holds who may see what."""

    name = "accounts"

    def ready(self) -> None:
        """Register permissions, what hears of sign-ins, and the kind of ids in addresses: they need the models."""
        import_module("accounts.permissions")
        models = import_module("accounts.models")
        import_module("accounts.idempotency.shared").tapped_add(models.IdempotencyKey, models.AuditEntry)
        import_module("accounts.sign_in.staying").connect()
        register_converter(import_module("accounts.fields").IdConverter, "id")
