"""Addresses of the travel floor."""

from django.urls import URLPattern, path

from travel import district_views, drive_views, map_views, people_views, place_views, views

urlpatterns: list[URLPattern] = [
    path("people/", people_views.people, name="people"),
    path("people/new/", people_views.PersonFormPage.as_view(), name="person_new"),
    path("people/<id:pk>/change/", people_views.PersonFormPage.as_view(), name="person_change"),
    path("people/<id:pk>/password/", people_views.person_password, name="person_password"),
    path("people/<id:pk>/active/", people_views.person_active, name="person_active"),
    path("covers/new/", people_views.SubstitutionFormPage.as_view(), name="substitution_new"),
    path("covers/<id:pk>/change/", people_views.SubstitutionFormPage.as_view(), name="substitution_change"),
    path("covers/<id:pk>/delete/", people_views.SubstitutionDeletePage.as_view(), name="substitution_delete"),
    path("district/", district_views.district, name="district"),
    path("district/change/", district_views.DistrictFormPage.as_view(), name="district_change"),
    path("district/map/", district_views.TileSourceFormPage.as_view(), name="tile_source"),
    path("roads/<int:zoom>/<int:column>/<int:row>.svg", map_views.road_tile, name="road_tile"),
    path("buildings/", views.building_list, name="building_list"),
    path("buildings/new/", views.BuildingFormPage.as_view(), name="building_new"),
    path("buildings/<id:pk>/change/", views.BuildingFormPage.as_view(), name="building_change"),
    path("buildings/<id:pk>/place/", place_views.building_place, name="building_place"),
    path("buildings/<id:pk>/delete/", views.BuildingDeletePage.as_view(), name="building_delete"),
    path("buildings/<id:building>/spaces/new/", views.SpaceFormPage.as_view(), name="space_new"),
    path("spaces/<id:pk>/change/", views.SpaceFormPage.as_view(), name="space_change"),
    path("spaces/<id:pk>/delete/", views.SpaceDeletePage.as_view(), name="space_delete"),
    path("rules/<id:teacher>/drive-times/new/", views.OwnDriveTimeFormPage.as_view(), name="own_drive_time_new"),
    path("drives/", drive_views.drives, name="drives"),
    path("drives/choices/", drive_views.TravelChoicesPage.as_view(), name="travel_choices"),
    path("drives/log/new/", drive_views.DriveLogFormPage.as_view(), name="drive_log_new"),
    path("drives/log/<id:pk>/change/", drive_views.DriveLogFormPage.as_view(), name="drive_log_change"),
    path("drives/log/<id:pk>/delete/", drive_views.DriveLogDeletePage.as_view(), name="drive_log_delete"),
    path("drives/rush/new/", drive_views.DriveFactorFormPage.as_view(), name="drive_factor_new"),
    path("drives/rush/<id:pk>/change/", drive_views.DriveFactorFormPage.as_view(), name="drive_factor_change"),
    path("drives/rush/<id:pk>/delete/", drive_views.DriveFactorDeletePage.as_view(), name="drive_factor_delete"),
    path("drive-times/<id:pk>/change/", views.OwnDriveTimeFormPage.as_view(), name="own_drive_time_change"),
    path("drive-times/<id:pk>/delete/", views.OwnDriveTimeDeletePage.as_view(), name="own_drive_time_delete"),
]
