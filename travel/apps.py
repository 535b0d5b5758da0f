"""The travel floor: buildings and the roads between."""

from django.apps import AppConfig


class TravelConfig(AppConfig):
    """Holds places and drive minutes."""

    name = "travel"
