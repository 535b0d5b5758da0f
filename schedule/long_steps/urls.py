"""Addresses of steps that are done in the background: ids only, never a name."""

from django.urls import URLPattern, path

from schedule.long_steps import pages

urlpatterns: list[URLPattern] = [
    path("steps/<id:step_id>/", pages.long_step, name="long_step"),
    path("steps/<id:step_id>/stop/", pages.long_step_stop, name="long_step_stop"),
]
