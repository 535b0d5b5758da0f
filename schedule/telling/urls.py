"""Addresses of progress reports: ids only."""

from django.urls import URLPattern, path

from schedule.telling import pages

urlpatterns: list[URLPattern] = [
    path("progress-reports/", pages.progress_reports, name="progress_reports"),
    path("progress-reports/<id:pk>/", pages.progress_report, name="progress_report"),
    path("progress-reports/<id:pk>/act/", pages.progress_report_act, name="progress_report_act"),
    path(
        "progress-reports/<id:pk>/print/<slug:audience>/", pages.progress_report_print, name="progress_report_print"
    ),
    path("students/<id:pk>/progress-reports/", pages.student_progress_reports, name="student_progress_reports"),
]
