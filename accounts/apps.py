"""The accounts floor: districts, people, roles, scoping, audit."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Holds who may see what."""

    name = "accounts"
