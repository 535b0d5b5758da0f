"""Addresses of the district's own page."""

from django.urls import URLPattern, path

from travel.district import pages as district_views

urlpatterns: list[URLPattern] = [
    path("district/", district_views.district, name="district"),
    path("district/change/", district_views.DistrictFormPage.as_view(), name="district_change"),
    path("district/map/", district_views.TileSourceFormPage.as_view(), name="tile_source"),
]
