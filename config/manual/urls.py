"""Addresses of the manual."""

from django.urls import URLPattern, path

from config.manual import pages

urlpatterns: list[URLPattern] = [
    path("manual/", pages.manual, name="manual"),
    path("manual/all/", pages.manual_whole, name="manual_whole"),
    path("manual/<slug:name>/", pages.manual_chapter, name="manual_chapter"),
]
