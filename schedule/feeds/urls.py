"""Addresses of calendar feeds and of the page that manages them."""

from django.urls import URLPattern, path

from schedule.feeds.pages import busy, feeds
from schedule.feeds.pages.serving import feed_ics

urlpatterns: list[URLPattern] = [
    path("feeds/<str:secret>.ics", feed_ics, name="feed_ics"),
    path("phone-calendar/", feeds.feeds, name="feeds"),
    path("phone-calendar/new/<slug:kind>/", feeds.feed_new, name="feed_new"),
    path("phone-calendar/<id:pk>/", feeds.feed, name="feed"),
    path("phone-calendar/<id:pk>/options/", feeds.feed_options, name="feed_options"),
    path("phone-calendar/<id:pk>/address/", feeds.feed_address_new, name="feed_address_new"),
    path("phone-calendar/<id:pk>/stop/", feeds.feed_end, name="feed_stop"),
    path("phone-calendar/<id:pk>/calendar.ics", feeds.feed_file, name="feed_file"),
    path("phone-calendar/<id:pk>/month/", feeds.feed_month, name="feed_month"),
    path("phone-calendar/busy/new/", busy.busy_new, name="busy_new"),
    path("phone-calendar/busy/<id:pk>/read/", busy.busy_read_again, name="busy_read"),
    path("phone-calendar/busy/<id:pk>/delete/", busy.busy_take_out, name="busy_delete"),
]
