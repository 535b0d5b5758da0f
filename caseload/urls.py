"""Addresses of the caseload floor."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
