"""Addresses of trips, vouchers and the map."""

from django.urls import URLPattern, path

from schedule.trips.pages import month as mileage
from schedule.trips.pages import road_map

urlpatterns: list[URLPattern] = [
    path("map/", road_map.road_map, name="road_map"),
    path("mileage/", mileage.mileage, name="mileage"),
    path("mileage/confirm/", mileage.trips_confirm, name="trips_confirm"),
    path("mileage/trips/new/", mileage.TripAddPage.as_view(), name="trip_new"),
    path("mileage/trips/<slug:key>/", mileage.TripCorrectPage.as_view(), name="trip_correct"),
    path("mileage/trips/<slug:key>/drop/", mileage.trip_drop, name="trip_drop"),
    path("mileage/trips/<slug:key>/reopen/", mileage.trip_reopen, name="trip_reopen"),
    path("mileage/months/<slug:month>/submit/", mileage.VoucherSubmitPage.as_view(), name="voucher_submit"),
    path("mileage/months/<slug:month>/supplement/", mileage.supplement_start, name="supplement_start"),
    path("mileage/months/<slug:month>/supplement/drop/", mileage.supplement_drop, name="supplement_drop"),
    path("mileage/vouchers/<id:pk>/", mileage.voucher, name="voucher"),
    path("mileage/vouchers/<id:pk>/mileage.<slug:form>", mileage.voucher_download, name="voucher_file"),
]
