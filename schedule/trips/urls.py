"""Addresses of trips, vouchers and the map."""

from django.urls import URLPattern, path

from schedule.trips.pages import month, road_map, vouchers

urlpatterns: list[URLPattern] = [
    path("map/", road_map.road_map, name="road_map"),
    path("mileage/", month.mileage, name="mileage"),
    path("mileage/confirm/", month.trips_confirm, name="trips_confirm"),
    path("mileage/trips/new/", month.TripAddPage.as_view(), name="trip_new"),
    path("mileage/trips/<slug:key>/", month.TripCorrectPage.as_view(), name="trip_correct"),
    path("mileage/trips/<slug:key>/drop/", month.trip_drop, name="trip_drop"),
    path("mileage/trips/<slug:key>/reopen/", month.trip_reopen, name="trip_reopen"),
    path("mileage/months/<slug:month>/submit/", vouchers.VoucherSubmitPage.as_view(), name="voucher_submit"),
    path("mileage/months/<slug:month>/supplement/", month.supplement_start, name="supplement_start"),
    path("mileage/months/<slug:month>/supplement/drop/", month.supplement_drop, name="supplement_drop"),
    path("mileage/vouchers/", vouchers.voucher_list, name="voucher_list"),
    path("mileage/vouchers/<id:pk>/", vouchers.voucher, name="voucher"),
    path("mileage/vouchers/<id:pk>/mileage.<slug:form>", vouchers.voucher_download, name="voucher_file"),
    path("mileage/vouchers/<id:pk>/<slug:step>/", vouchers.voucher_step, name="voucher_step"),
]
