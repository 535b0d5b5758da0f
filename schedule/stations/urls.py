"""Addresses of stations, and of who is where in a session."""

from django.urls import URLPattern, path

from schedule.stations.pages import rotations, stations

urlpatterns: list[URLPattern] = [
    path("stations/", stations.station_list, name="station_list"),
    path("stations/new/", stations.StationFormPage.as_view(), name="station_new"),
    path("stations/<id:pk>/", stations.station_detail, name="station_detail"),
    path("stations/<id:pk>/change/", stations.StationFormPage.as_view(), name="station_change"),
    path("stations/<id:pk>/put-away/", stations.station_away, name="station_away"),
    path("stations/<id:pk>/bring-back/", stations.station_back, name="station_back"),
    path("stations/<id:pk>/picture/", stations.station_picture, name="station_picture"),
    path("stations/<id:pk>/picture/change/", stations.station_picture_change, name="station_picture_change"),
    path("stations/<id:pk>/picture/bring-back/", stations.station_picture_back, name="station_picture_back"),
    path("stations/<id:station>/equipment/new/", stations.NeedFormPage.as_view(), name="station_need_new"),
    path("stations/equipment/<id:pk>/change/", stations.NeedFormPage.as_view(), name="station_need_change"),
    path("stations/equipment/<id:pk>/delete/", stations.NeedDeletePage.as_view(), name="station_need_delete"),
    path("sessions/<uuid:uid>/stations/", rotations.rotation, name="rotation"),
    path("sessions/<uuid:uid>/stations/set-up/", rotations.rotation_set_up, name="rotation_set_up"),
    path("sessions/<uuid:uid>/stations/move/", rotations.rotation_moved, name="rotation_moved"),
    path("sessions/<uuid:uid>/stations/take-back/", rotations.rotation_back, name="rotation_back"),
    path("sessions/<uuid:uid>/stations/bring-back/", rotations.rotation_again, name="rotation_again"),
    path("sessions/<uuid:uid>/stations/cards/", rotations.rotation_cards, name="rotation_cards"),
]
