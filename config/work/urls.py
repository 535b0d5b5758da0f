"""Addresses of work that broke off."""

from django.urls import URLPattern, path

from config.work.pages import start_again, work_page

urlpatterns: list[URLPattern] = [
    path("work/", work_page, name="work"),
    path("work/<uuid:pk>/start-again/", start_again, name="work_start_again"),
]
