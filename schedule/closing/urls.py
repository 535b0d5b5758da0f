"""Addresses of months of the log."""

from django.urls import URLPattern, path

from schedule.closing import pages

urlpatterns: list[URLPattern] = [
    path("log/months/", pages.months, name="log_months"),
    path("log/months/rules/", pages.month_rules_change, name="log_month_rules"),
    path("log/months/<id:teacher>/<slug:month>/", pages.month, name="log_month"),
    path("log/months/<id:teacher>/<slug:month>/sign/", pages.SignPage.as_view(), name="log_month_sign"),
    path("log/months/<id:teacher>/<slug:month>/close/", pages.ClosePage.as_view(), name="log_month_close"),
    path("log/months/<id:teacher>/<slug:month>/reopen/", pages.ReopenPage.as_view(), name="log_month_reopen"),
]
