"""Addresses of who stands in: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.covers import pages

urlpatterns: list[URLPattern] = [
    path("happened/<id:pk>/cover/", pages.cover_new, name="cover_arrange"),
    path("stands-in/<id:pk>/change/", pages.cover_changed, name="cover_change"),
    path("stands-in/<id:pk>/end/", pages.cover_ended, name="cover_end"),
    path("stands-in/<id:pk>/address/", pages.cover_address, name="cover_address"),
]
