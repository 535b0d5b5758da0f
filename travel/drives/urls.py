"""Addresses of drive times and of what was driven."""

from django.urls import URLPattern, path

from travel.drives.pages import drives
from travel.drives.pages.own import OwnDriveTimeDeletePage, OwnDriveTimeFormPage

urlpatterns: list[URLPattern] = [
    path(
        "rules/<id:teacher>/drive-times/new/",
        OwnDriveTimeFormPage.as_view(),
        name="own_drive_time_new",
    ),
    path("drives/", drives.drives, name="drives"),
    path("drives/choices/", drives.TravelChoicesPage.as_view(), name="travel_choices"),
    path("drives/log/new/", drives.DriveLogFormPage.as_view(), name="drive_log_new"),
    path("drives/log/<id:pk>/change/", drives.DriveLogFormPage.as_view(), name="drive_log_change"),
    path("drives/log/<id:pk>/delete/", drives.DriveLogDeletePage.as_view(), name="drive_log_delete"),
    path("drives/rush/new/", drives.DriveFactorFormPage.as_view(), name="drive_factor_new"),
    path("drives/rush/<id:pk>/change/", drives.DriveFactorFormPage.as_view(), name="drive_factor_change"),
    path("drives/rush/<id:pk>/delete/", drives.DriveFactorDeletePage.as_view(), name="drive_factor_delete"),
    path("drive-times/<id:pk>/change/", OwnDriveTimeFormPage.as_view(), name="own_drive_time_change"),
    path(
        "drive-times/<id:pk>/delete/",
        OwnDriveTimeDeletePage.as_view(),
        name="own_drive_time_delete",
    ),
]
