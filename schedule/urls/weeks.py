"""Addresses of weeks, runs of the planner and print views."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
