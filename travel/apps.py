"""The travel floor: buildings and the roads between."""

from importlib import import_module

from django.apps import AppConfig


class TravelConfig(AppConfig):
    """Holds places and drive minutes."""

    name = "travel"

    def ready(self) -> None:
        """Hand the buildings of a school office down to the accounts floor: they need the models."""
        tapped_add = import_module("accounts.idempotency.shared").tapped_add
        tapped_add(import_module("travel.drives.models").DriveLog)
        offices = import_module("travel.places.offices").OFFICES
        import_module("accounts.people.hooks").office_buildings_add(offices)
