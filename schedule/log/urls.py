"""Addresses of the log and of ledgers: ids only, never a name or a note."""

from django.urls import URLPattern, path

from schedule.log.pages import entries as log_entries
from schedule.log.pages import ledger
from schedule.log.pages import sessions as log
from schedule.log.pages import undo as log_undo

urlpatterns: list[URLPattern] = [
    path("log/", log.log, name="log"),
    path("log/session/", log.log_session, name="log_session"),
    path("log/day/", log.mark_day, name="day_mark"),
    path("log/undo/", log_undo.log_undo, name="log_undo"),
    path("log/decisions/", log_entries.decisions, name="team_decisions"),
    path("log/rules/", ledger.ledger_rules, name="ledger_rules"),
    path("log/entries/<id:entry_id>/", log_entries.entry, name="log_entry"),
    path("log/entries/<id:entry_id>/correct/", log_entries.correct, name="log_correct"),
    path("log/entries/<id:entry_id>/decide/", log_entries.decide, name="log_decide"),
    path("students/<id:pk>/minutes/", ledger.ledger, name="student_ledger"),
    path("students/<id:pk>/minutes/log/", ledger.minutes_log, name="minutes_log"),
]
