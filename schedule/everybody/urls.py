"""Addresses of planning everybody."""

from django.urls import URLPattern, path

from schedule.everybody import pages

urlpatterns: list[URLPattern] = [
    path("everybody/", pages.everybody, name="everybody"),
    path("everybody/<id:plan_id>/", pages.everybody_plan, name="everybody_plan"),
    path("everybody/<id:plan_id>/stop/", pages.everybody_end, name="everybody_stop"),
    path("everybody/<id:plan_id>/take-back/", pages.everybody_back, name="everybody_take_back"),
]
