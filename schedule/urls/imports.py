"""Addresses of imports and their undo."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
