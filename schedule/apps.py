"""The schedule floor: bells, calendars, weeks."""

from django.apps import AppConfig


class ScheduleConfig(AppConfig):
    """Holds when and where it happens."""

    name = "schedule"
