"""The addresses of the coordinator's page."""

from django.urls import URLPattern, path

from schedule.overview import pages

urlpatterns: list[URLPattern] = [
    path("overview/", pages.OverviewPage.as_view(), name="overview"),
    path("overview/waits/<int:kind>/", pages.waits_page, name="overview_waits"),
]
