"""Addresses of mileage rules, rates and homes."""

from django.urls import URLPattern, path

from travel.mileage import pages

urlpatterns: list[URLPattern] = [
    path("mileage/rules/", pages.mileage_rules, name="mileage_rules"),
    path("mileage/rules/change/", pages.MileageSettingsPage.as_view(), name="mileage_settings_change"),
    path("mileage/rules/<id:pk>/correct/", pages.MileageSettingsPage.as_view(), name="mileage_settings_correct"),
    path(
        "mileage/rules/<id:pk>/delete/", pages.MileageSettingsDeletePage.as_view(), name="mileage_settings_delete"
    ),
    path("mileage/rates/new/", pages.MileageRatePage.as_view(), name="mileage_rate_new"),
    path("mileage/rates/copy/", pages.rates_copy, name="mileage_rates_copy"),
    path("mileage/rates/<id:pk>/change/", pages.MileageRatePage.as_view(), name="mileage_rate_change"),
    path("mileage/rates/<id:pk>/delete/", pages.MileageRateDeletePage.as_view(), name="mileage_rate_delete"),
    path("mileage/account-codes/new/", pages.AccountCodePage.as_view(), name="account_code_new"),
    path("mileage/account-codes/<id:pk>/change/", pages.AccountCodePage.as_view(), name="account_code_change"),
    path(
        "mileage/account-codes/<id:pk>/delete/", pages.AccountCodeDeletePage.as_view(), name="account_code_delete"
    ),
    path("mileage/home/<id:teacher>/", pages.TeacherHomePage.as_view(), name="teacher_home"),
    path("mileage/homes/<id:pk>/correct/", pages.TeacherHomePage.as_view(), name="teacher_home_correct"),
    path("mileage/homes/<id:pk>/delete/", pages.TeacherHomeDeletePage.as_view(), name="teacher_home_delete"),
]
