"""Addresses of leaves: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.leaving import pages

urlpatterns: list[URLPattern] = [
    path("leaving/", pages.leaving, name="leaving"),
    path("leaving/<id:teacher>/", pages.leaving_teacher, name="leaving_teacher"),
    path("leaving/leaves/<id:pk>/last-day/", pages.leave_last_day, name="leave_last_day"),
    path("leaving/leaves/<id:pk>/take-back/", pages.leave_taking_back, name="leave_take_back"),
]
