"""The travel floor: buildings and the roads between."""

from importlib import import_module

from django.apps import AppConfig


class TravelConfig(AppConfig):
    """Holds places and drive minutes."""

    name = "travel"

    def ready(self) -> None:
        """Hand the buildings of a school office down to the accounts floor: they need the models."""
        offices = import_module("travel.places.offices").OFFICES
        import_module("accounts.people.hooks").office_buildings_add(offices)
