"""Addresses of mileage rules, rates and homes."""

from django.urls import URLPattern, path

from travel.mileage import pages as views

urlpatterns: list[URLPattern] = [
    path("mileage/rules/", views.mileage_rules, name="mileage_rules"),
    path("mileage/rules/change/", views.MileageSettingsPage.as_view(), name="mileage_settings_change"),
    path("mileage/rules/<id:pk>/correct/", views.MileageSettingsPage.as_view(), name="mileage_settings_correct"),
    path(
        "mileage/rules/<id:pk>/delete/", views.MileageSettingsDeletePage.as_view(), name="mileage_settings_delete"
    ),
    path("mileage/rates/new/", views.MileageRatePage.as_view(), name="mileage_rate_new"),
    path("mileage/rates/copy/", views.rates_copy, name="mileage_rates_copy"),
    path("mileage/rates/<id:pk>/change/", views.MileageRatePage.as_view(), name="mileage_rate_change"),
    path("mileage/rates/<id:pk>/delete/", views.MileageRateDeletePage.as_view(), name="mileage_rate_delete"),
    path("mileage/home/<id:teacher>/", views.TeacherHomePage.as_view(), name="teacher_home"),
    path("mileage/homes/<id:pk>/correct/", views.TeacherHomePage.as_view(), name="teacher_home_correct"),
    path("mileage/homes/<id:pk>/delete/", views.TeacherHomeDeletePage.as_view(), name="teacher_home_delete"),
]
