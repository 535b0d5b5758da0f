"""Addresses of reports: ids and dates only."""

from django.urls import URLPattern, path

from schedule.reports import pages as reports

urlpatterns: list[URLPattern] = [
    path("reports/", reports.report_home, name="report_home"),
    path("reports/students/<id:pk>/", reports.StudentReport.as_view(), name="report_student"),
    path("reports/students/<id:pk>/everything/", reports.student_archive_page, name="student_archive"),
    path("reports/teachers/<id:pk>/", reports.TeacherReport.as_view(), name="report_teacher"),
    path("reports/buildings/<id:pk>/", reports.BuildingReport.as_view(), name="report_building"),
    path("reports/sessions/", reports.SessionFilePage.as_view(), name="report_sessions"),
    path("reports/district/", reports.DistrictReport.as_view(), name="report_district"),
]
