"""Addresses of the accounts floor."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
