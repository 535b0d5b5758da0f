"""Addresses of the day sheet."""

from django.urls import URLPattern, path

from schedule.day.pages import running
from schedule.day.pages import sheet as day

urlpatterns: list[URLPattern] = [
    path("day/", day.day, name="day"),
    path("day/<str:date>/", day.day_of, name="day_of"),
    path("day/<str:date>/start/", day.day_start, name="day_start"),
    path("day/<str:date>/arrive/", day.day_arrive, name="day_arrive"),
    path("day/<str:date>/undo/", day.day_undo, name="day_undo"),
    path("class-hour/<str:date>/<uuid:uid>/run/", running.class_hour_run, name="class_hour_run"),
]
