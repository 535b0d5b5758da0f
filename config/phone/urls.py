"""Addresses of the program on a phone."""

from django.urls import URLPattern, path

from config.phone import pages

urlpatterns: list[URLPattern] = [
    path("worker.js", pages.worker, name="worker"),
    path("phone/", pages.phone, name="phone"),
    path("phone/list/", pages.phone_list, name="phone_list"),
    path("phone/standing/", pages.phone_standing, name="phone_standing"),
    path("phone/no-signal/", pages.phone_no_signal, name="phone_no_signal"),
    path("phone/locked/", pages.phone_locked, name="phone_locked"),
    path("unsent/", pages.unsent, name="unsent"),
]
