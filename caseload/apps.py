"""The caseload floor: students, plans, service lines."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_save


class CaseloadConfig(AppConfig):
    """Holds what is owed to whom."""

    name = "caseload"

    def ready(self) -> None:
        """Closed months are asked about changes of what they were counted from; care is handed down."""
        guards, closed = import_module("accounts.guards"), import_module("caseload.delivery.services.closed")
        plans, delivery = import_module("caseload.plans.models"), import_module("caseload.delivery.models")
        guards.guard_add(plans.ServiceLine, closed.line_guard)
        guards.guard_add(plans.Plan, closed.plan_guard)
        guards.guard_add(plans.Enrollment, closed.enrollment_guard)
        guards.guard_add(plans.Student, closed.student_guard)
        guards.guard_add(delivery.LedgerSettings, closed.rules_guard)
        guards.guard_add(delivery.MissedReason, closed.reason_guard)
        guards.guard_add(delivery.ReasonEffect, closed.effect_guard)
        tapped_add = import_module("accounts.idempotency.shared").tapped_add
        tapped_add(delivery.DeliveryEntry, delivery.DeliveryVersion)
        tapped_add(import_module("caseload.progress.models").DataPoint)
        hooks = import_module("caseload.plans.hooks")
        hooks.care_add(import_module("caseload.care.selectors").care_of)
        hooks.panel_add(import_module("caseload.care.pages.students").care_panel)
        counted = import_module("caseload.plans.enrollment.selectors").students_at_buildings
        import_module("travel.reviews.hooks").student_counter_add(counted)
        import_module("caseload.access.watching").connect()
        post_save.connect(
            import_module("caseload.care.services").tags_ensure,
            sender="accounts.District",
            dispatch_uid="care-tags",
        )
