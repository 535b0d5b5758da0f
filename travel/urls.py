"""Addresses of the travel floor."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
