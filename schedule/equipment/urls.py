"""Addresses of activities and equipment."""

from django.urls import URLPattern, path

from schedule.equipment import pages

urlpatterns: list[URLPattern] = [
    path("equipment/", pages.equipment_list, name="equipment_list"),
    path("equipment/new/", pages.EquipmentFormPage.as_view(), name="equipment_new"),
    path("equipment/activities/", pages.activity_list, name="activity_list"),
    path("equipment/activities/new/", pages.ActivityFormPage.as_view(), name="activity_new"),
    path("equipment/activities/<id:pk>/change/", pages.ActivityFormPage.as_view(), name="activity_change"),
    path("equipment/activities/<id:pk>/put-away/", pages.activity_away, name="activity_away"),
    path("equipment/activities/<id:pk>/bring-back/", pages.activity_back, name="activity_back"),
    path("spaces/<id:space>/cautions/", pages.SpaceCautionsPage.as_view(), name="space_cautions"),
    path("equipment/<id:pk>/", pages.equipment_detail, name="equipment_detail"),
    path("equipment/<id:pk>/change/", pages.EquipmentFormPage.as_view(), name="equipment_change"),
    path("equipment/<id:pk>/put-away/", pages.equipment_away, name="equipment_away"),
    path("equipment/<id:pk>/bring-back/", pages.equipment_back, name="equipment_back"),
    path("equipment/<id:pk>/take-back/", pages.stocks_take_back, name="stocks_take_back"),
    path("equipment/<id:equipment>/places/new/", pages.StockFormPage.as_view(), name="stock_new"),
    path("equipment/places/<id:pk>/change/", pages.StockFormPage.as_view(), name="stock_change"),
    path("equipment/places/<id:pk>/delete/", pages.StockDeletePage.as_view(), name="stock_delete"),
    path("equipment/places/<id:pk>/count/", pages.stock_tap, name="stock_tap"),
]
