"""Addresses of what happened."""

from django.urls import URLPattern, path

from schedule.happenings import pages

urlpatterns: list[URLPattern] = [
    path("happened/", pages.happenings, name="happenings"),
    path("happened/new/", pages.happening_new, name="happening_new"),
    path("happened/<id:pk>/take-back/", pages.happening_undo, name="happening_take_back"),
]
