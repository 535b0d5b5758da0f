"""Addresses of aides' hours: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.aides import pages

urlpatterns: list[URLPattern] = [
    path("aides/", pages.aide_list, name="aide_list"),
    path("contacts/<id:contact>/hours/new/", pages.AideHoursFormPage.as_view(), name="aide_hours_new"),
    path("contacts/<id:pk>/hours/take-back/", pages.hours_take_back, name="aide_hours_take_back"),
    path("aides/hours/<id:pk>/change/", pages.AideHoursFormPage.as_view(), name="aide_hours_change"),
    path("aides/hours/<id:pk>/delete/", pages.AideHoursDeletePage.as_view(), name="aide_hours_delete"),
]
