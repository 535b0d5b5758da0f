"""Addresses of who saw what."""

from django.urls import URLPattern, path

from caseload.access.pages import accesses_page

urlpatterns: list[URLPattern] = [path("access/", accesses_page, name="accesses")]
