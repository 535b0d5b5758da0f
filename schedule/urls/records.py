"""Addresses of bells, calendar, classes' meetings and teachers' rules."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
