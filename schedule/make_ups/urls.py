"""Addresses of make-ups."""

from django.urls import URLPattern, path

from schedule.make_ups import pages as make_ups

urlpatterns: list[URLPattern] = [
    path("make-ups/", make_ups.make_ups, name="make_ups"),
    path("make-ups/plan/", make_ups.plan_all, name="make_ups_plan"),
    path("make-ups/after/<id:pk>/", make_ups.after, name="make_ups_after"),
    path("make-ups/lines/<id:line_id>/", make_ups.slots, name="make_up_slots"),
    path("make-ups/lines/<id:line_id>/book/", make_ups.book, name="make_up_book"),
    path("make-ups/weeks/<id:week_id>/cancel/", make_ups.cancel, name="make_up_cancel"),
]
