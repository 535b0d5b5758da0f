"""Addresses of calendar feeds and of the page that manages them."""

from django.urls import URLPattern, path

from schedule.feeds import feed_ics

urlpatterns: list[URLPattern] = [
    path("feeds/<str:secret>.ics", feed_ics, name="feed_ics"),
]
