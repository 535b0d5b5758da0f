"""Addresses of the log and of ledgers: ids only, never a name or a note."""

from django.urls import URLPattern, path

from schedule.log.pages import compensatory, entries, ledger, sessions, undo

urlpatterns: list[URLPattern] = [
    path("log/", sessions.log, name="log"),
    path("log/session/", sessions.log_session, name="log_session"),
    path("log/day/", sessions.mark_day, name="day_mark"),
    path("log/undo/", undo.log_undo, name="log_undo"),
    path("log/decisions/", entries.decisions, name="team_decisions"),
    path("log/rules/", ledger.ledger_rules, name="ledger_rules"),
    path("log/rules/<id:pk>/delete/", ledger.LedgerSettingsDeletePage.as_view(), name="ledger_settings_delete"),
    path("log/entries/<id:entry_id>/", entries.entry, name="log_entry"),
    path("log/entries/<id:entry_id>/correct/", entries.correct, name="log_correct"),
    path("log/entries/<id:entry_id>/decide/", entries.decide, name="log_decide"),
    path("students/<id:pk>/minutes/", ledger.ledger, name="student_ledger"),
    path(
        "students/<id:student>/compensatory/new/",
        compensatory.CompensatoryFormPage.as_view(),
        name="compensatory_new",
    ),
    path("compensatory/<id:pk>/change/", compensatory.CompensatoryFormPage.as_view(), name="compensatory_change"),
    path("compensatory/<id:pk>/delete/", compensatory.CompensatoryDeletePage.as_view(), name="compensatory_delete"),
    path("students/<id:pk>/minutes/log/", ledger.minutes_log, name="minutes_log"),
]
