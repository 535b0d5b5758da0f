"""The address of the first hour."""

from django.urls import URLPattern, path

from schedule.beginning import pages

urlpatterns: list[URLPattern] = [path("beginning/", pages.beginning_page, name="beginning")]
