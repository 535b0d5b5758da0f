"""Addresses of the district's own page."""

from django.urls import URLPattern, path

from travel.district import pages

urlpatterns: list[URLPattern] = [
    path("district/", pages.district, name="district"),
    path("district/change/", pages.DistrictFormPage.as_view(), name="district_change"),
    path("district/map/", pages.TileSourceFormPage.as_view(), name="tile_source"),
]
