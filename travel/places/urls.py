"""Addresses of buildings and spaces, and of the pictures below a map."""

from django.urls import URLPattern, path

from travel.places.pages import buildings, coordinates, tiles

urlpatterns: list[URLPattern] = [
    path("roads/<int:zoom>/<int:column>/<int:row>.svg", tiles.road_tile, name="road_tile"),
    path("buildings/", buildings.building_list, name="building_list"),
    path("buildings/new/", buildings.BuildingFormPage.as_view(), name="building_new"),
    path("buildings/<id:pk>/change/", buildings.BuildingFormPage.as_view(), name="building_change"),
    path("buildings/<id:pk>/place/", coordinates.building_place, name="building_place"),
    path("buildings/<id:pk>/delete/", buildings.BuildingDeletePage.as_view(), name="building_delete"),
    path("buildings/<id:building>/spaces/new/", buildings.SpaceFormPage.as_view(), name="space_new"),
    path("spaces/<id:pk>/change/", buildings.SpaceFormPage.as_view(), name="space_change"),
    path("spaces/<id:pk>/delete/", buildings.SpaceDeletePage.as_view(), name="space_delete"),
]
