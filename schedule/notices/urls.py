"""Addresses of the pages of messages."""

from django.urls import URLPattern, path

from schedule.notices.pages import devices, looks
from schedule.notices.pages import messages as pages

urlpatterns: list[URLPattern] = [
    path("told/", pages.notices, name="notices"),
    path("told/mine/", pages.HearingPage.as_view(), name="hearing"),
    path("told/district/", pages.NoticeSettingsPage.as_view(), name="notice_settings"),
    path("told/test/", pages.notice_trial, name="notice_trial"),
    path("told/names/new/", pages.NameRulePage.as_view(), name="name_rule_new"),
    path("told/names/take-back/", pages.name_rules_take_back, name="name_rules_take_back"),
    path("told/names/<id:pk>/", pages.NameRulePage.as_view(), name="name_rule_change"),
    path("told/names/<id:pk>/delete/", pages.NameRuleDeletePage.as_view(), name="name_rule_delete"),
    path("told/since/", looks.week_since, name="changes_since"),
    path("told/seen/", looks.seen, name="changes_seen"),
    path("told/unseen/", looks.unseen, name="changes_unseen"),
    path("told/devices/new/", devices.device_new, name="push_device_new"),
    path("told/devices/<id:pk>/", devices.DevicePage.as_view(), name="push_device"),
    path("told/devices/<id:pk>/stop/", devices.device_off, name="push_device_stop"),
    path("told/devices/<id:pk>/resume/", devices.device_on, name="push_device_resume"),
    path("told/devices/<id:pk>/delete/", devices.device_out, name="push_device_delete"),
    path("told/devices/<id:pk>/test/", devices.device_trial, name="push_device_test"),
    path("told/<id:pk>/again/", pages.notice_send_again, name="notice_again"),
]
