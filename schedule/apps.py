"""The schedule floor: bells, calendars, weeks."""

from importlib import import_module

from django.apps import AppConfig


class ScheduleConfig(AppConfig):
    """Holds when and where it happens."""

    name = "schedule"

    def ready(self) -> None:
        """Hand the rules about bells down to the caseload floor: they need the models, which are there now."""
        rules = import_module("schedule.calendar.services.rules")
        hooks = import_module("caseload.plans.hooks")
        hooks.rules_add(lines=rules.line_fits_a_period, holds=rules.hold_fits_the_bells, periods=rules.period_names)
        hooks.changes_add(
            moves=import_module("schedule.weeks.services.following").line_references_move,
            foresees=import_module("schedule.log.services").plan_effects_foreseen,
        )
        hooks.panel_add(import_module("schedule.terms.pages.students").usual_panel)
        hooks.panel_add(import_module("schedule.joint.pages").joint_panel)
        told = import_module("schedule.weeks.selectors.told.meetings")
        import_module("schedule.meetings.hooks").in_force_add(taking=told.sessions_at, lacking=told.weeks_without)
        import_module("accounts.guards").ends_add(import_module("schedule.weeks.services.ends").ends_told)
        import_module("accounts.guards").ends_add(import_module("schedule.weeks.services.ends").outside_told)
        import_module("accounts.guards").ends_add(import_module("schedule.weeks.services.ends").bells_told)
        covered = import_module("schedule.weeks.selectors.covered")
        import_module("caseload.plans.covered").covered_add(covered.in_sessions_of)
        hooks.marking_periods_add(import_module("schedule.calendar.selectors.marking_periods").marking_periods_of)
        sources = import_module("schedule.imports.services.calendar_sources")
        import_module("schedule.calendar.hooks").calendar_hooks_add(
            planned=import_module("schedule.weeks.selectors.weeks").is_planned_on,
            refresh=lambda district: sources.sources_ask_due(district=district),
        )
        routines = import_module("schedule.class_hour.selectors.hours")
        import_module("schedule.stations.hooks").stations_part_add(routines.stations_part_of)
        practiced = import_module("schedule.class_hour.selectors.routines").goal_practiced
        import_module("caseload.progress.hooks").practice_add(practiced)
        import_module("schedule.feeds.signals").connect()
        import_module("schedule.happenings.services.following").connect()
        logged = import_module("schedule.happenings.services.logged")
        import_module("accounts.people.hooks").cover_effects_add(logged.cover_effects_told)
        silent = import_module("schedule.feeds.selectors.silent").silent_calendars
        import_module("schedule.day.hooks").silent_add(silent)
        guards, closed = import_module("accounts.guards"), import_module("schedule.calendar.services.closed")
        days = import_module("schedule.calendar.models")
        guards.guard_add(days.CalendarEntry, closed.entry_guard)
        guards.guard_add(days.SchoolYear, closed.dated_guard)
        guards.guard_add(days.MarkingPeriod, closed.dated_guard)
        guards.guard_add(days.DayRotation, closed.rotation_guard)
