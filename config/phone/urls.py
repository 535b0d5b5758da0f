"""Addresses of the program on a phone."""

from django.urls import URLPattern, path

from config.phone import pages

urlpatterns: list[URLPattern] = [
    path("worker.js", pages.worker, name="worker"),
]
