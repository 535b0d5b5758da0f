"""Addresses of common meetings: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.meetings import pages

urlpatterns: list[URLPattern] = [
    path("common-meetings/", pages.common_meetings, name="common_meetings"),
    path("common-meetings/new/", pages.CommonMeetingFormPage.as_view(), name="common_meeting_new"),
    path("common-meetings/new-lunch/", pages.CommonLunchFormPage.as_view(), name="common_lunch_new"),
    path("common-meetings/take-back/", pages.common_meetings_take_back, name="common_meetings_take_back"),
    path("common-meetings/<id:pk>/change/", pages.CommonMeetingFormPage.as_view(), name="common_meeting_change"),
    path("common-meetings/<id:pk>/delete/", pages.CommonMeetingDeletePage.as_view(), name="common_meeting_delete"),
    path("common-meetings/<id:pk>/answer/", pages.common_meeting_say, name="common_meeting_answer"),
]
