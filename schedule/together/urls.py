"""Addresses of planning together."""

from django.urls import URLPattern, path

from schedule.together import pages

urlpatterns: list[URLPattern] = [
    path("together/", pages.together, name="together"),
    path("together/<id:plan_id>/", pages.together_plan, name="together_plan"),
    path("together/<id:plan_id>/stop/", pages.together_stop, name="together_stop"),
    path("together/<id:plan_id>/publish/", pages.together_publishing, name="together_publish"),
]
