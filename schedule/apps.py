"""The schedule floor: bells, calendars, weeks."""

from importlib import import_module

from django.apps import AppConfig


class ScheduleConfig(AppConfig):
    """Holds when and where it happens."""

    name = "schedule"

    def ready(self) -> None:
        """Hand the rules about bells down to the caseload floor: they need the models, which are there now."""
        rules = import_module("schedule.services.record_rules")
        hooks = import_module("caseload.hooks")
        hooks.rules_add(lines=rules.line_fits_a_period, holds=rules.hold_fits_the_bells, periods=rules.period_names)
        import_module("schedule.feed_signals").connect()
