"""Addresses of the pages of messages."""

from django.urls import URLPattern, path

from schedule.notices import pages

urlpatterns: list[URLPattern] = [
    path("told/", pages.notices, name="notices"),
    path("told/mine/", pages.HearingPage.as_view(), name="hearing"),
    path("told/district/", pages.NoticeSettingsPage.as_view(), name="notice_settings"),
    path("told/test/", pages.notice_trial, name="notice_trial"),
    path("told/<id:pk>/again/", pages.notice_send_again, name="notice_again"),
]
