"""Addresses of buildings and spaces, and of the pictures below a map."""

from django.urls import URLPattern, path

from travel.places.pages import buildings as views
from travel.places.pages import coordinates as place_views
from travel.places.pages import tiles as map_views

urlpatterns: list[URLPattern] = [
    path("roads/<int:zoom>/<int:column>/<int:row>.svg", map_views.road_tile, name="road_tile"),
    path("buildings/", views.building_list, name="building_list"),
    path("buildings/new/", views.BuildingFormPage.as_view(), name="building_new"),
    path("buildings/<id:pk>/change/", views.BuildingFormPage.as_view(), name="building_change"),
    path("buildings/<id:pk>/place/", place_views.building_place, name="building_place"),
    path("buildings/<id:pk>/delete/", views.BuildingDeletePage.as_view(), name="building_delete"),
    path("buildings/<id:building>/spaces/new/", views.SpaceFormPage.as_view(), name="space_new"),
    path("spaces/<id:pk>/change/", views.SpaceFormPage.as_view(), name="space_change"),
    path("spaces/<id:pk>/delete/", views.SpaceDeletePage.as_view(), name="space_delete"),
]
